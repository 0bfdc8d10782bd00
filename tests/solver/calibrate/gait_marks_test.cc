#include "solver/calibrate/gait_marks.h"

#include <cmath>
#include <limits>
#include <numbers>
#include <random>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/gaits.h"
#include "tests/support/read_trial.h"
#include "tests/support/robots.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::HasStatus;
using testing::HasSubstr;

constexpr double kFrequencyHz = 10.0;
constexpr double kStrideM = 0.007;

// What is logged of a robot of which one swing is known in closed form.
struct Log {
  int cycles = 8;
  bool has_phase = true;
  int missing_every = 0;  // rows, at which the swing is missing
  double noise_m = 0.0;
};

class GaitMarksTest : public testing::Test {
 protected:
  GaitMarksTest()
      : gait_(test::MakeSineGait(robot_, {.frequency_hz = kFrequencyHz})),
        plan_(PlannedCycle::Create(
                  {.robot = robot_, .surface = test::MakeSurface(0.5), .gait = gait_})
                  .value()) {}

  // Swing: 0.1 mm + 1 mm cos - 0.4 mm sin(2 phase), x at constant speed.
  test::ReadTrial Write(const Log& log) {
    test::ReadTrial read;
    read.trial->set_kind(v1::TRIAL_KIND_GAIT);
    read.trial->set_gait(gait_.name());
    read.trial->set_stride_frequency_hz(kFrequencyHz);
    v1::TrialGroup* group = read.trial->add_groups();
    group->set_name("on-board");
    group->set_clock(v1::TRIAL_CLOCK_ON_BOARD);
    group->add_columns()->set_label("time [s]");
    group->add_columns()->set_label(leg() + " swing [mm]");
    group->add_columns()->set_label("body x [mm]");
    if (log.has_phase) {
      group->add_columns()->set_label("phase");
    }
    v1::TrialBlock& block = read.blocks.emplace_back();
    std::mt19937 generator(1);
    std::normal_distribution<double> normal;
    for (int row = 0; row <= log.cycles * 80; ++row) {
      const double cycles = row / 80.0;
      const double angle = 2.0 * std::numbers::pi * cycles;
      const bool is_missing = log.missing_every > 0 && row % log.missing_every == 3;
      block.add_values_as_labelled(cycles / kFrequencyHz);
      block.add_values_as_labelled(is_missing
                                       ? std::numeric_limits<double>::quiet_NaN()
                                       : 0.1 + std::cos(angle) - 0.4 * std::sin(2.0 * angle) +
                                             1e3 * log.noise_m * normal(generator));
      block.add_values_as_labelled(1e3 * kStrideM * cycles);
      if (log.has_phase) {
        block.add_values_as_labelled(cycles - std::floor(cycles));
      }
    }
    read.Read(robot_);
    return read;
  }

  absl::StatusOr<GaitMarks> Mark(const test::ReadTrial& read) {
    return MarkTrial(*read.table, gait_, plan_, 1, 5);
  }

  std::string leg() const { return robot_.legs(1).name(); }

  v1::Robot robot_ = test::MakeQuadruped();
  v1::Gait gait_;
  PlannedCycle plan_;
};

TEST_F(GaitMarksTest, AreMeanAndHarmonicsOfACycle) {
  const auto marks = Mark(Write({}));
  ASSERT_THAT(marks, test::IsOk());
  ASSERT_EQ(marks->channels.size(), 2U) << "what was not measured has no channel";
  EXPECT_EQ(marks->channels[0].name, leg() + " swing");
  EXPECT_EQ(marks->channels[1].name, "stride");
  const MarkMeans means = MeansOf(*marks);
  // Linear in the samples: what is left is the rounding of 80 sums.
  const double expected[] = {1e-4, 1e-3, 0.0, 0.0, -4e-4, kStrideM};
  ASSERT_EQ(means.mean.size(), 6);
  for (int i = 0; i < 6; ++i) {
    EXPECT_NEAR(means.mean[i], expected[i], 1e-12) << i;
    EXPECT_EQ(means.count[i], 7) << "the first cycle is left out";
  }
}

TEST_F(GaitMarksTest, MissingSamplesDoNotMatter) {
  const auto marks = Mark(Write({.missing_every = 7}));
  ASSERT_THAT(marks, test::IsOk());
  EXPECT_NEAR(MeansOf(*marks).mean[1], 1e-3, 1e-12);
}

// The coefficient of a harmonic over n samples of white noise s has the deviation s sqrt(2 / n).
TEST_F(GaitMarksTest, NoiseShowsInTheVarianceOfTheMean) {
  const auto marks = Mark(Write({.cycles = 401, .noise_m = 1e-5}));
  ASSERT_THAT(marks, test::IsOk());
  const MarkMeans means = MeansOf(*marks);
  // 400 cycles know a variance to 7 %, three times of which are allowed.
  const double of_one = 1e-10 * 2.0 / 80.0;
  EXPECT_NEAR(means.variance[1] / (of_one / 400.0), 1.0, 0.22);
  EXPECT_NEAR(means.variance[0] / (of_one / 2.0 / 400.0), 1.0, 0.22);
}

TEST_F(GaitMarksTest, RefusesTrialsThatDoNotTell) {
  EXPECT_THAT(Mark(Write({.has_phase = false})),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("log the phase")));
  EXPECT_THAT(Mark(Write({.cycles = 4})),
              HasStatus(absl::StatusCode::kInvalidArgument,
                        AllOf(HasSubstr("has 3 whole cycles"), HasSubstr("run at least 6"))));
}

}  // namespace
}  // namespace gaitshelf::solver
