#include "solver/mechanism/linkage.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

using Eigen::Vector3d;
using Eigen::VectorXd;
using ::testing::ElementsAre;

// A yoke about z that carries a four-bar about x, one of its hinges the other way round.
Linkage CarriedFourBar() {
  Linkage linkage;
  linkage.links.resize(4);
  linkage.links[1] = {.parent = 0, .point = Vector3d(1, 0, 0), .axis = Vector3d::UnitX()};
  linkage.links[2] = {.parent = 1, .point = Vector3d(1, 0, 2), .axis = -Vector3d::UnitX()};
  linkage.links[3] = {.parent = 0, .point = Vector3d(1, 3, 0), .axis = Vector3d::UnitX()};
  LoopHinge loop;
  loop.a = 2;
  loop.b = 3;
  loop.point = Vector3d(1, 3, 2.5);
  loop.axis = Vector3d::UnitX();
  linkage.loops = {loop};
  return linkage;
}

TEST(EvaluateLoopsTest, DerivativesAgreeWithCentralDifferences) {
  const Linkage linkage = CarriedFourBar();
  const VectorXd angles = (VectorXd(4) << 0.7, 0.2, -0.3, 0.4).finished();
  LinkagePose pose;
  VectorXd at, above, below;
  Eigen::MatrixXd jacobian, unused;
  EvaluatePose(linkage, angles, &pose);
  EvaluateLoops(linkage, pose, &at, &jacobian);
  constexpr double kStep = 1e-6;
  for (Eigen::Index i = 0; i < 4; ++i) {
    EvaluatePose(linkage, angles + kStep * VectorXd::Unit(4, i), &pose);
    EvaluateLoops(linkage, pose, &above, &unused);
    EvaluatePose(linkage, angles - kStep * VectorXd::Unit(4, i), &pose);
    EvaluateLoops(linkage, pose, &below, &unused);
    EXPECT_LT(((above - below) / (2.0 * kStep) - jacobian.col(i)).norm(), 1e-8) << i;
  }
  EXPECT_EQ(jacobian.col(0).norm(), 0.0);  // the yoke carries the whole loop
}

TEST(HingeSignsTest, FollowTheAxesRoundTheLoop) {
  const Linkage linkage = CarriedFourBar();
  const VectorXd signs = HingeSigns(linkage, linkage.loops[0]);
  EXPECT_THAT(std::vector<double>(signs.data(), signs.data() + 4), ElementsAre(0, -1, 1, 1));
  EXPECT_THAT(LinksOfLoop(linkage, linkage.loops[0]), ElementsAre(2, 1, 3));
}

}  // namespace
}  // namespace gaitshelf::solver
