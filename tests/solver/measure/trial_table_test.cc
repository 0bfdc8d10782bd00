#include "solver/measure/trial_table.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/base/constants.h"
#include "solver/measure/check_trial.h"
#include "tests/solver/measure/trials.h"

namespace gaitshelf::solver {
namespace {

using testing::ElementsAre;

class TrialTableTest : public testing::Test {
 protected:
  void SetUp() override {
    test::AddGroup("again", v1::TRIAL_CLOCK_ON_BOARD, {"time [s]", "body x [m]"}, &trial_);
    ASSERT_TRUE(ResolveTrial(test::MakeParts(), &trial_).empty());
  }

  v1::Trial trial_ = test::MakeTrial();
};

TEST_F(TrialTableTest, HoldsColumnsInSiUnits) {
  TrialTable table(&trial_);
  table.Add(test::MakeBlock(0, 0, {1.0, 5.0, 1.0, 2.0, 6.0, 0.0}));
  table.Add(test::MakeBlock(1, 0, {0.1}));
  table.Add(test::MakeBlock(0, 2, {3.5, kNan, 0.0}));
  table.Add(test::MakeBlock(1, 1, {0.2}));
  table.Finish();
  const Channel x = table.Find({v1::TRIAL_QUANTITY_BODY_POSITION});
  ASSERT_TRUE(x);
  EXPECT_THAT(*x.time_s, ElementsAre(0.001, 0.002, 0.0035));
  EXPECT_DOUBLE_EQ((*x.values)[1], 0.006);
  EXPECT_TRUE(std::isnan((*x.values)[2]));
  EXPECT_EQ(x.clock, v1::TRIAL_CLOCK_TRACKING);
  const Channel swing = table.Find({v1::TRIAL_QUANTITY_LEG_POSITION, "leg-1", 1});
  ASSERT_TRUE(swing);
  EXPECT_THAT(*swing.time_s, ElementsAre(0.0, 0.001));
  EXPECT_DOUBLE_EQ((*swing.values)[1], 0.0002);
  EXPECT_FALSE(table.Find({v1::TRIAL_QUANTITY_LEG_POSITION, "leg-1", 0}));
  EXPECT_FALSE(table.Find({v1::TRIAL_QUANTITY_LEG_POSITION, "leg-2", 1}));
}

TEST_F(TrialTableTest, FindsColumnsOfRepetitionsWithoutTimes) {
  v1::Trial trial;
  trial.set_kind(v1::TRIAL_KIND_TILT);
  trial.set_surface("bench");
  test::AddGroup("tilt", v1::TRIAL_CLOCK_BENCH, {"tilt [rad]"}, &trial);
  ASSERT_TRUE(ResolveTrial(test::MakeParts(), &trial).empty());
  TrialTable table(&trial);
  table.Add(test::MakeBlock(0, 0, {0.3, 0.4}));
  table.Finish();
  const ChannelName tilt = {v1::TRIAL_QUANTITY_TILT};
  EXPECT_FALSE(table.Find(tilt));
  ASSERT_NE(table.FindColumn(tilt), nullptr);
  EXPECT_THAT(*table.FindColumn(tilt), ElementsAre(0.3, 0.4));
  EXPECT_EQ(table.FindColumn({v1::TRIAL_QUANTITY_SLIDE_TIME}), nullptr);
}

TEST_F(TrialTableTest, PrefersTheWantedClock) {
  TrialTable table(&trial_);
  table.Add(test::MakeBlock(0, 0, {1.0, 5.0, 1.0, 2.0, 6.0, 0.0}));
  table.Add(test::MakeBlock(2, 0, {0.0, 7.0, 0.1, 8.0}));
  table.Finish();
  const ChannelName x = {v1::TRIAL_QUANTITY_BODY_POSITION};
  EXPECT_EQ(table.Find(x, v1::TRIAL_CLOCK_ON_BOARD).values->front(), 7.0);
  EXPECT_EQ(table.Find(x, v1::TRIAL_CLOCK_BENCH).values->front(), 0.005);
  EXPECT_FALSE(table.FindOn(x, v1::TRIAL_CLOCK_BENCH));
}

TEST_F(TrialTableTest, CountsDroppedRowsAndMissingValues) {
  TrialTable table(&trial_);
  table.Add(test::MakeBlock(
      0, 0, {1, 0, 0, 2, kNan, 0, 3, 0, 0, 6.05, 0, kNan, 7, 0, 0, 8, 0, 0, 9.4, 0, 0}));
  table.Finish();
  const v1::SamplingReport report = table.ReportSampling()[0];
  EXPECT_EQ(report.group(), "tracking");
  EXPECT_NEAR(report.sample_rate_hz(), 1000.0, 1e-6);
  EXPECT_NEAR(report.duration_s(), 0.0084, 1e-12);
  EXPECT_EQ(report.dropped_count(), 2);
  EXPECT_EQ(report.missing_count(), 2);
  EXPECT_NEAR(report.longest_gap_s(), 0.00305, 1e-12);
  EXPECT_EQ(table.ReportSampling()[1].sample_rate_hz(), 0.0);
}

}  // namespace
}  // namespace gaitshelf::solver
