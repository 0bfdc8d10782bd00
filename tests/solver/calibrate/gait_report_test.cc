#include "solver/calibrate/gait_report.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

using testing::HasSubstr;

// A fit that tells the second unknown well, the third hardly, and nothing else.
GaitFit MakeFit(const GaitUnknowns& unknowns) {
  GaitFit fit;
  fit.estimate = Eigen::VectorXd::Zero(unknowns.count());
  fit.estimate[1] = 0.1;
  fit.estimate[2] = 0.2;
  Eigen::VectorXd variance = unknowns.prior().array().square();
  variance[1] *= 0.01;
  variance[2] *= 0.49;
  fit.covariance = variance.asDiagonal();
  fit.degrees_of_freedom = 10.0;
  fit.channels = {{.trial = "t-1", .channel = "stride", .unit = "m", .cycle_count = 20}};
  fit.replay_count = 464;
  return fit;
}

TEST(GaitReportTest, TakesWhatIsToldAndNamesTheRest) {
  const GaitUnknowns unknowns =
      GaitUnknowns::Create(test::MakeQuadruped(), test::MakeSurface(0.5), {}).value();
  v1::Calibration calibration;
  const Eigen::VectorXd taken = ReportGaits(unknowns, MakeFit(unknowns), &calibration);
  EXPECT_EQ(taken[1], 0.1);
  EXPECT_EQ(taken[2], 0.2) << "moves with the one that is told";
  ASSERT_EQ(calibration.estimates_size(), unknowns.count());
  EXPECT_TRUE(calibration.estimates(1).is_told());
  EXPECT_THAT(calibration.estimates(1).reason(), HasSubstr("trials of gaits"));
  EXPECT_FALSE(calibration.estimates(2).is_told());
  EXPECT_THAT(calibration.estimates(2).reason(), HasSubstr("hardly tell it"));
  // Student's 97.5 % point for 10 degrees of freedom is 2.228 (M. Abramowitz, I. A. Stegun, table
  // 26.10, from memory).
  const v1::CalibrationEstimate& estimate = calibration.estimates(1);
  EXPECT_NEAR(std::log(estimate.upper_si() / estimate.estimate_si()),
              2.228 * 0.1 * unknowns.prior()[1],
              1e-3 * unknowns.prior()[1]);
  ASSERT_EQ(calibration.fits_size(), 1);
  EXPECT_EQ(calibration.fits(0).channel(), "stride");
  EXPECT_TRUE(calibration.notes().empty());
}

TEST(GaitReportTest, LeavesWhatOtherTestsToldAndReplacesWhatTheyLeftOpen) {
  const GaitUnknowns all =
      GaitUnknowns::Create(test::MakeQuadruped(), test::MakeSurface(0.5), {}).value();
  v1::Calibration calibration;
  v1::CalibrationEstimate* bench = calibration.add_estimates();
  bench->set_parameter(ParameterName(all.subject(1)));
  v1::CalibrationEstimate* tilt = calibration.add_estimates();
  tilt->set_parameter("friction");
  tilt->set_estimate_si(0.5);
  tilt->set_uncertainty_si(0.01);
  tilt->set_is_told(true);
  EXPECT_EQ(ToldSoFar(calibration).size(), 1U);
  EXPECT_NEAR(ToldSoFar(calibration).at("friction"), 0.02, 1e-12);
  const GaitUnknowns unknowns =
      GaitUnknowns::Create(test::MakeQuadruped(), test::MakeSurface(0.5), ToldSoFar(calibration))
          .value();
  ReportGaits(unknowns, MakeFit(unknowns), &calibration);
  EXPECT_EQ(calibration.estimates_size(), unknowns.count());
  EXPECT_TRUE(calibration.estimates(0).is_told()) << "the bench test had left it open";
  EXPECT_NEAR(calibration.estimates(1).estimate_si(), 0.5, 1e-12);
}

TEST(GaitReportTest, TakesNothingOverWhereNothingIsTold) {
  const GaitUnknowns unknowns =
      GaitUnknowns::Create(test::MakeQuadruped(), test::MakeSurface(0.5), {}).value();
  GaitFit fit = MakeFit(unknowns);
  fit.covariance(1, 1) *= 50.0;
  v1::Calibration calibration;
  EXPECT_TRUE(ReportGaits(unknowns, fit, &calibration).isZero(0.0));
}

TEST(GaitReportTest, NotesWhatTheModelMisses) {
  const GaitUnknowns unknowns =
      GaitUnknowns::Create(test::MakeQuadruped(), test::MakeSurface(0.5), {}).value();
  GaitFit fit = MakeFit(unknowns);
  fit.birge_ratio = 3.0;
  fit.fallen_count = 5;
  v1::Calibration calibration;
  ReportGaits(unknowns, fit, &calibration);
  ASSERT_EQ(calibration.notes_size(), 2);
  EXPECT_THAT(calibration.notes(0).text(), HasSubstr("3.0 times"));
  EXPECT_THAT(calibration.notes(1).text(), HasSubstr("5 of 464"));
}

}  // namespace
}  // namespace gaitshelf::solver
