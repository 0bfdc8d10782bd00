#include "service/api/resolve_order.h"

#include <algorithm>
#include <cstddef>

#include "absl/strings/str_cat.h"
#include "service/api/status.h"
#include "service/library/stored_gait.h"
#include "solver/base/status_macros.h"
#include "solver/robot/check.h"
#include "solver/robot/digest.h"
#include "solver/robot/transition.h"

namespace gaitshelf::service {

namespace {

using Surfaces = std::vector<v1::StoredSurface>;

// The surfaces of the order as it names them.
absl::StatusOr<Surfaces> FindSurfaces(Library* library,
                                      const v1::GaitOrder& order,
                                      const OrderVersions& versions) {
  const auto also_on_count = static_cast<std::size_t>(order.also_on_size());
  if (!versions.also_on_digests.empty() && versions.also_on_digests.size() != also_on_count) {
    v1::FieldViolation violation;
    violation.set_field("also_on_digests");
    violation.set_value(absl::StrCat(versions.also_on_digests.size(), " digests"));
    violation.set_problem(
        absl::StrCat("must be one for each surface of order.also_on, which has ", also_on_count));
    violation.set_mend("give an empty one for each surface that is wanted as it is now");
    return InvalidRequest({violation});
  }
  Surfaces surfaces;
  GAITSHELF_ASSIGN_OR_RETURN(surfaces.emplace_back(),
                             library->GetSurface(order.surface(), versions.surface_digest));
  for (std::size_t i = 0; i < also_on_count; ++i) {
    const std::string digest =
        versions.also_on_digests.empty() ? std::string() : versions.also_on_digests[i];
    GAITSHELF_ASSIGN_OR_RETURN(surfaces.emplace_back(),
                               library->GetSurface(order.also_on(static_cast<int>(i)), digest));
  }
  return surfaces;
}

absl::Status CheckOn(const v1::GaitOrder& order, const Surfaces& surfaces) {
  std::vector<v1::Surface> also_on;
  for (std::size_t i = 1; i < surfaces.size(); ++i) {
    also_on.push_back(surfaces[i].surface());
  }
  const solver::Violations faults =
      solver::CheckOrderOn(order, surfaces.front().surface(), also_on);
  return faults.empty() ? absl::OkStatus() : InvalidRequest(faults);
}

// The gaits of a transition are there, and go together.
absl::Status CheckJoined(Library* library, const JobOrder& resolved) {
  const v1::Transition& transition = resolved.order.task().transition();
  solver::TransitionGaits gaits;
  GAITSHELF_ASSIGN_OR_RETURN(gaits.from, LoadGait(library, transition.from_gait()));
  GAITSHELF_ASSIGN_OR_RETURN(gaits.to, LoadGait(library, transition.to_gait()));
  const solver::Violations faults = solver::CheckTransition(
      resolved.order, resolved.robot_digest, resolved.surface_digest, gaits);
  return faults.empty() ? absl::OkStatus() : InvalidRequest(faults);
}

void PutSlipperiestFirst(Surfaces* surfaces) {
  std::sort(surfaces->begin(),
            surfaces->end(),
            [](const v1::StoredSurface& a, const v1::StoredSurface& b) {
              return a.surface().name() < b.surface().name();
            });
  const auto slipperiest = std::min_element(
      surfaces->begin(),
      surfaces->end(),
      [](const v1::StoredSurface& a, const v1::StoredSurface& b) {
        return a.surface().friction_coefficient() < b.surface().friction_coefficient();
      });
  std::rotate(surfaces->begin(), slipperiest, slipperiest + 1);
}

}  // namespace

absl::StatusOr<JobOrder> ResolveOrder(Library* library,
                                      const v1::GaitOrder& order,
                                      const OrderVersions& versions) {
  if (const solver::Violations faults = solver::CheckOrder(order); !faults.empty()) {
    return InvalidRequest(faults);
  }
  GAITSHELF_ASSIGN_OR_RETURN(const v1::StoredRobot robot,
                             library->GetRobot(order.robot(), versions.robot_digest));
  GAITSHELF_ASSIGN_OR_RETURN(Surfaces surfaces, FindSurfaces(library, order, versions));
  if (const solver::Violations faults = solver::CheckOrderFor(order, robot.robot());
      !faults.empty()) {
    return InvalidRequest(faults);
  }
  GAITSHELF_RETURN_IF_ERROR(CheckOn(order, surfaces));
  PutSlipperiestFirst(&surfaces);
  JobOrder resolved;
  resolved.order = order;
  resolved.order.set_surface(surfaces.front().surface().name());
  resolved.order.clear_also_on();
  std::vector<std::string> also_on_digests;
  for (std::size_t i = 1; i < surfaces.size(); ++i) {
    v1::SurfaceVersion& version = resolved.also_on.emplace_back();
    version.set_surface(surfaces[i].surface().name());
    version.set_digest(surfaces[i].digest());
    resolved.order.add_also_on(version.surface());
    also_on_digests.push_back(version.digest());
  }
  resolved.robot_digest = robot.digest();
  resolved.surface_digest = surfaces.front().digest();
  if (order.task().has_transition()) {
    GAITSHELF_RETURN_IF_ERROR(CheckJoined(library, resolved));
  }
  resolved.key =
      solver::OrderKey(resolved.robot_digest, resolved.surface_digest, order, also_on_digests);
  return resolved;
}

}  // namespace gaitshelf::service
