#include "solver/replay/replay_model.h"

#include <cmath>

#include "solver/base/status_macros.h"
#include "solver/leg/compile_leg.h"

namespace gaitshelf::solver {

absl::StatusOr<RobotModel> CreateReplayModel(const v1::Robot& robot,
                                             const v1::Surface& surface,
                                             const v1::LegTables* leg_tables) {
  v1::LegTables compiled;
  if (leg_tables == nullptr) {
    GAITSHELF_ASSIGN_OR_RETURN(compiled, CompileLegs(robot));
    leg_tables = &compiled;
  }
  GAITSHELF_ASSIGN_OR_RETURN(const RobotModel si,
                             RobotModel::Create(robot, surface, Scale(), leg_tables));
  Scale scale;
  const double height_m =
      si.base_count() > 0 ? si.ReferencePosture()[2] : robot.body().clamp_height_m();
  // 1 mm for a robot whose frame lies on the surface: any length does, results do not depend on it.
  scale.length_m = height_m > 0.0 ? height_m : 1e-3;
  scale.mass_kg = si.total_mass();
  scale.time_s = std::sqrt(scale.length_m / kGravityMPerS2);
  return RobotModel::Create(robot, surface, scale, leg_tables);
}

}  // namespace gaitshelf::solver
