#include "solver/measure/find_cycles.h"

#include <gtest/gtest.h>

#include "tests/solver/measure/walker.h"

namespace gaitshelf::solver {
namespace {

v1::TrialAnalysis Analyse(const std::vector<std::string>& labels) {
  return test::Walk(test::Walker(), {{"log", v1::TRIAL_CLOCK_ON_BOARD, 1000.0, labels}}).Analyse();
}

TEST(FindCyclesTest, PrefersTheLoggedPhase) {
  const v1::TrialAnalysis analysis = Analyse({"phase", "leg-1 contact", "leg-1 swing [mm]"});
  EXPECT_EQ(analysis.cycle_source(), v1::CYCLE_SOURCE_PHASE);
  EXPECT_EQ(analysis.cycle_start_s_size(), 11);
}

// The plan has the feet land at phase 0; leg-1 lands at 0.1.
TEST(FindCyclesTest, TakesTouchdownsElse) {
  const v1::TrialAnalysis analysis = Analyse({"leg-1 contact", "leg-1 swing [mm]"});
  EXPECT_EQ(analysis.cycle_source(), v1::CYCLE_SOURCE_CONTACT);
  EXPECT_NEAR(std::fmod(analysis.cycle_start_s(3), 0.1), 0.01, 1e-3);
}

TEST(FindCyclesTest, TakesTheLegsMotionElse) {
  const v1::TrialAnalysis analysis = Analyse({"leg-1 swing [mm]"});
  EXPECT_EQ(analysis.cycle_source(), v1::CYCLE_SOURCE_LEG);
  EXPECT_GE(analysis.cycle_start_s_size(), 11);
  EXPECT_NEAR(std::remainder(analysis.cycle_start_s(3), 0.1), 0.0, 1e-4);
}

TEST(FindCyclesTest, CutsTheBodysRecordAtLast) {
  const v1::TrialAnalysis analysis = Analyse({"body x [mm]"});
  EXPECT_EQ(analysis.cycle_source(), v1::CYCLE_SOURCE_BODY);
  EXPECT_EQ(analysis.cycle_start_s_size(), 12);  // thirteen with the one of standing, one left out
  EXPECT_FALSE(analysis.legs(0).has_swing());
}

}  // namespace
}  // namespace gaitshelf::solver
