#include "service/api/resolve_order.h"

#include "service/api/status.h"
#include "solver/base/status_macros.h"
#include "solver/robot/check.h"
#include "solver/robot/digest.h"

namespace gaitshelf::service {

absl::StatusOr<JobOrder> ResolveOrder(Library* library,
                                      const v1::GaitOrder& order,
                                      const OrderVersions& versions) {
  if (const solver::Violations faults = solver::CheckOrder(order); !faults.empty()) {
    return InvalidRequest(faults);
  }
  GAITSHELF_ASSIGN_OR_RETURN(const v1::StoredRobot robot,
                             library->GetRobot(order.robot(), versions.robot_digest));
  GAITSHELF_ASSIGN_OR_RETURN(const v1::StoredSurface surface,
                             library->GetSurface(order.surface(), versions.surface_digest));
  if (const solver::Violations faults = solver::CheckOrderFor(order, robot.robot());
      !faults.empty()) {
    return InvalidRequest(faults);
  }
  if (const solver::Violations faults = solver::CheckOrderOn(order, surface.surface());
      !faults.empty()) {
    return InvalidRequest(faults);
  }
  JobOrder resolved;
  resolved.key = solver::OrderKey(robot.digest(), surface.digest(), order);
  resolved.order = order;
  resolved.robot_digest = robot.digest();
  resolved.surface_digest = surface.digest();
  return resolved;
}

}  // namespace gaitshelf::service
