#include "solver/replay/mechanism_loads.h"

#include <gtest/gtest.h>

#include "tests/solver/replay/whole_samples.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

class MechanismLoadsTest : public ::testing::Test {
 protected:
  Index AngleOf(size_t leg, const std::string& flexure) const {
    const WholeLeg& own = sample_.whole.legs()[leg];
    for (size_t i = 0; i < own.description.link_flexures.size(); ++i) {
      if (own.description.link_flexures[i].name == flexure) {
        return own.first + static_cast<Index>(i);
      }
    }
    ADD_FAILURE() << flexure;
    return 0;
  }

  test::WholeSample sample_ = test::MakeWholeSample(0.4);
  MechanismLoads loads_{&sample_.whole, sample_.outline.scale()};
  VectorXd q_ = VectorXd::Zero(38);
  VectorXd forces_ = VectorXd::Zero(24);
  VectorXd residual_ = VectorXd::Zero(24);
};

TEST_F(MechanismLoadsTest, NamesTheFlexureThatBendsFurthestAndTheOneStrainedMost) {
  q_[AngleOf(1, "e")] = -0.4;
  loads_.Record(q_, forces_, residual_);
  q_[AngleOf(1, "e")] = 0.0;
  q_[AngleOf(2, "a")] = 0.3;
  loads_.Record(q_, forces_, residual_);
  const v1::MechanismReport report = loads_.Report();
  EXPECT_EQ(report.most_bent().leg(), "front-right");
  EXPECT_EQ(report.most_bent().flexure(), "e");
  EXPECT_DOUBLE_EQ(report.most_bent().angle_rad(), 0.4);
  // Film of 12.5 um bent over 0.12 mm, against 15 um over 0.085 mm: t angle / (2 l).
  EXPECT_NEAR(report.most_bent().strain_ratio(), 0.4 * 12.5e-6 / (2.0 * 0.12e-3), 1e-15);
  EXPECT_EQ(report.most_strained().leg(), sample_.robot.legs(2).name());
  EXPECT_EQ(report.most_strained().flexure(), "a");
  EXPECT_NEAR(report.most_strained().strain_ratio(), 0.3 * 15e-6 / (2.0 * 0.085e-3), 1e-15);
}

TEST_F(MechanismLoadsTest, CountsClosingFlexuresByTheirOwnAngle) {
  // c closes the loop of a, b and d: its angle is d - a - b.
  q_[AngleOf(0, "a")] = 0.1;
  q_[AngleOf(0, "b")] = 0.1;
  q_[AngleOf(0, "d")] = -0.1;
  loads_.Record(q_, forces_, residual_);
  EXPECT_EQ(loads_.Report().most_bent().flexure(), "c");
  EXPECT_NEAR(loads_.Report().most_bent().angle_rad(), 0.3, 1e-15);
}

TEST_F(MechanismLoadsTest, NamesTheLoopThatCarriesMostInNewtons) {
  forces_.segment<2>(6 + 2) << 3.0, -4.0;  // second loop of the second leg
  residual_[20] = -2e-11;
  loads_.Record(q_, forces_, residual_);
  loads_.Record(q_, VectorXd::Zero(24), VectorXd::Zero(24));
  const v1::MechanismReport report = loads_.Report();
  EXPECT_EQ(report.most_loaded().leg(), "front-right");
  EXPECT_EQ(report.most_loaded().flexure(), "g");
  EXPECT_NEAR(report.most_loaded().force_n(), 5.0 * sample_.outline.scale().force_n(), 1e-15);
  EXPECT_NEAR(report.loop_residual_m(), 2e-11 * sample_.outline.scale().length_m, 1e-24);
  EXPECT_EQ(report.coordinate_count(), 38);
  EXPECT_EQ(report.loop_equation_count(), 24);
}

TEST_F(MechanismLoadsTest, ForgetsOnReset) {
  q_[AngleOf(0, "a")] = 0.1;
  loads_.Record(q_, forces_, residual_);
  loads_.Reset();
  EXPECT_FALSE(loads_.Report().has_most_bent());
}

TEST_F(MechanismLoadsTest, SaysNoStrainWithoutFilms) {
  v1::Robot robot = sample_.robot;
  for (v1::Leg& leg : *robot.mutable_legs()) {
    for (v1::Flexure& flexure : *leg.mutable_linkage()->mutable_flexures()) {
      flexure.mutable_bending()->set_stiffness_n_m_per_rad(1e-5);
    }
    for (v1::ClosingFlexure& flexure : *leg.mutable_linkage()->mutable_closing_flexures()) {
      flexure.mutable_bending()->set_stiffness_n_m_per_rad(1e-5);
    }
  }
  const WholeRobot whole = *WholeRobot::Create(robot, sample_.outline);
  MechanismLoads loads(&whole, sample_.outline.scale());
  loads.Record(VectorXd::Constant(38, 0.1), forces_, residual_);
  EXPECT_TRUE(loads.Report().has_most_bent());
  EXPECT_FALSE(loads.Report().has_most_strained());
}

}  // namespace
}  // namespace gaitshelf::solver
