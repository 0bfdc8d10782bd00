// Prints how the first leg of a described robot closes its loops and rings on a bench, for
// loop_mechanism_test.py to compare with its own answer.
//
//   leg_table ROBOT_FILE
//
//   posture LIFT SWING ANGLE... X Y Z   angles of the tree's flexures in the order of the
//                                       description, rad, and the foot, m, by closing the loops
//   foot LIFT SWING X Y Z               the foot of the compiled leg at the same angles
//   mode HZ DAMPING_RATIO               body clamped, no gravity
#include <cstdio>
#include <fstream>
#include <sstream>
#include <string>

#include "absl/status/statusor.h"
#include "solver/leg/modes.h"
#include "solver/leg/robot_model.h"
#include "solver/robot/leg_linkage.h"
#include "tests/support/read_description.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

v1::Robot OneLegOnABench(const v1::Robot& robot) {
  v1::Robot bench = robot;
  bench.mutable_legs()->DeleteSubrange(1, robot.legs_size() - 1);
  bench.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  bench.mutable_body()->set_clamp_height_m(0.1);
  return bench;
}

// Links are indexed parents first, flexures in the order of the description.
Eigen::Index LinkOf(const LegLinkage& leg, const v1::Flexure& flexure) {
  const Eigen::Map<const Eigen::Vector3d> point(flexure.point_m().data());
  for (size_t i = 0; i < leg.linkage.links.size(); ++i) {
    if ((leg.linkage.links[i].point - point).norm() == 0.0) {
      return static_cast<Eigen::Index>(i);
    }
  }
  return 0;
}

void PrintPoint(const Eigen::Vector3d& point) {
  std::printf(" %.17g %.17g %.17g\n", point[0], point[1], point[2]);
}

absl::Status PrintPosture(const v1::LinkageLeg& described,
                          const LegLinkage& leg,
                          const RobotModel& model,
                          const Eigen::Vector2d& angles) {
  const LoopClosure closure(&leg.linkage);
  ClosedPosture posture;
  if (absl::Status status = closure.Start(&posture); !status.ok()) {
    return status;
  }
  const FootRates rates = MeasureFootRates(leg, posture);
  if (absl::Status status = closure.Walk(angles, 10, &posture); !status.ok()) {
    return status;
  }
  std::printf("posture %.17g %.17g", angles[0], angles[1]);
  for (const v1::Flexure& flexure : described.flexures()) {
    std::printf(" %.17g", posture.angles[LinkOf(leg, flexure)]);
  }
  PrintPoint(posture.pose.Place(leg.linkage.foot_link, leg.linkage.foot));
  FootKinematics foot;
  model.EvaluateFoot(angles.cwiseQuotient(rates.rad_per_m), 0, false, &foot);
  std::printf("foot %.17g %.17g", angles[0], angles[1]);
  PrintPoint(foot.position - Eigen::Vector3d(0.0, 0.0, 0.1));
  return absl::OkStatus();
}

absl::Status Print(const std::string& path) {
  std::ifstream file(path);
  std::ostringstream text;
  text << file.rdbuf();
  const absl::StatusOr<v1::Robot> robot = test::ReadRobotText(text.str());
  if (!robot.ok()) {
    return robot.status();
  }
  const v1::Robot bench = OneLegOnABench(*robot);
  const v1::LinkageLeg& described = bench.legs(0).linkage();
  const absl::StatusOr<LegLinkage> leg = ReadLegLinkage(described);
  if (!leg.ok()) {
    return leg.status();
  }
  const absl::StatusOr<RobotModel> model =
      RobotModel::Create(bench, test::MakeSurface(0.5), Scale());
  if (!model.ok()) {
    return model.status();
  }
  for (const double lift : {-1.0, -0.3, 0.0, 0.6, 1.0}) {
    for (const double swing : {-1.0, -0.5, 0.0, 0.4, 1.0}) {
      const Eigen::Vector2d share(lift, swing);
      if (absl::Status status =
              PrintPosture(described, *leg, *model, share.cwiseProduct(leg->upper_rad));
          !status.ok()) {
        return status;
      }
    }
  }
  const RobotModel weightless = model->InFreeFall();
  const absl::StatusOr<Standing> standing = FindStanding(weightless, FootCondition::kClamped);
  if (!standing.ok()) {
    return standing.status();
  }
  for (const Mode& mode : FindModes(weightless, *standing)) {
    std::printf("mode %.17g %.17g\n", mode.frequency_hz, mode.damping_ratio);
  }
  return absl::OkStatus();
}

}  // namespace
}  // namespace gaitshelf::solver

int main(int argc, char** argv) {
  if (argc != 2) {
    std::fprintf(stderr, "usage: leg_table ROBOT_FILE\n");
    return 2;
  }
  const absl::Status status = gaitshelf::solver::Print(argv[1]);
  if (!status.ok()) {
    std::fprintf(stderr, "%s\n", status.ToString().c_str());
    return 1;
  }
  return 0;
}
