#include "solver/replay/audited_plan.h"

#include <utility>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using testing::ElementsAre;

// Records what is asked of the planner and answers from a script: replay over plan of each variant,
// 0 for a plan that does not converge.
class Script {
 public:
  explicit Script(std::vector<double> ratios) : ratios_(std::move(ratios)) {}

  AuditedPlanSteps Steps() {
    return {
        .plan = [this](const PlanRequest& request, int variant) { return Plan(request, variant); },
        .audit = [this](const AuditRequest& request) { return Audit(request); }};
  }

  std::vector<int> variants;
  std::vector<v1::SeedPattern> patterns;
  std::vector<int> knots;
  std::vector<double> reaches;
  std::vector<double> steady_duties;
  std::vector<bool> may_slide;
  std::vector<bool> had_checkpoint;
  int stop_at_variant = -1;

 private:
  absl::StatusOr<v1::Gait> Plan(const PlanRequest& request, int variant) {
    variants.push_back(variant);
    patterns.push_back(request.order.options().seed_pattern());
    knots.push_back(request.order.options().knot_count());
    reaches.push_back(request.reach_ratio);
    steady_duties.push_back(request.steady_duty);
    may_slide.push_back(request.may_slide);
    had_checkpoint.push_back(request.checkpoint.has_value());
    if (variant == stop_at_variant) {
      return absl::CancelledError("stopped");
    }
    v1::Gait gait;
    gait.set_name("as planned");
    gait.set_knot_count(knots.back() == 0 ? 80 : knots.back());
    const double ratio = ratios_.at(static_cast<size_t>(variant));
    gait.set_advance_m(ratio);
    gait.mutable_report()->set_seed_pattern(
        patterns.back() == v1::SEED_PATTERN_UNSPECIFIED ? v1::SEED_PATTERN_TROT : patterns.back());
    gait.mutable_report()->set_outcome(ratio == 0.0 ? v1::PLAN_OUTCOME_INFEASIBLE
                                                    : v1::PLAN_OUTCOME_CONVERGED);
    return gait;
  }

  absl::StatusOr<v1::Audit> Audit(const AuditRequest& request) const {
    v1::Audit audit;
    const double ratio = request.gait.advance_m();
    audit.mutable_replay()->set_plan_ratio(ratio);
    audit.set_verdict(ratio > 0.9 && ratio < 1.1 ? v1::VERDICT_GOOD : v1::VERDICT_FAILED);
    return audit;
  }

  std::vector<double> ratios_;
};

// What a slow order without a choice of its own comes to.
v1::Gait SlowWalk(v1::PlanOutcome outcome) {
  v1::Gait gait;
  gait.set_knot_count(120);
  gait.mutable_report()->set_outcome(outcome);
  gait.mutable_report()->set_seed_pattern(v1::SEED_PATTERN_WALK);
  return gait;
}

PlanRequest AdvanceRequest() {
  PlanRequest request;
  request.order.set_stride_frequency_hz(8.0);
  request.order.mutable_task()->mutable_advance()->set_advance_m(0.005);
  return request;
}

TEST(PlanAuditedTest, TakesTheFirstPlanWhenItIsGood) {
  Script script({0.95});
  const auto gait = PlanAudited(AdvanceRequest(), script.Steps());
  ASSERT_THAT(gait, test::IsOk());
  EXPECT_THAT(script.variants, ElementsAre(0));
  EXPECT_EQ(gait->audit().verdict(), v1::VERDICT_GOOD);
  EXPECT_EQ(gait->report().variant(), 0);
  EXPECT_EQ(gait->name(), "as planned");
}

TEST(PlanAuditedTest, TriesOtherFootfallsAndKnotsUntilOneReplays) {
  Script script({0.8, 0.7, 0.97});
  const auto gait = PlanAudited(AdvanceRequest(), script.Steps());
  ASSERT_THAT(gait, test::IsOk());
  EXPECT_THAT(script.variants, ElementsAre(0, 1, 2));
  EXPECT_THAT(
      script.patterns,
      ElementsAre(
          v1::SEED_PATTERN_UNSPECIFIED, v1::SEED_PATTERN_WALK, v1::SEED_PATTERN_UNSPECIFIED));
  EXPECT_THAT(script.knots, ElementsAre(0, 0, 120));
  EXPECT_EQ(gait->report().variant(), 2);
  EXPECT_NE(gait->name(), "as planned") << "the name goes by the content";
}

TEST(PlanAuditedTest, KeepsTheNearestWhenNoneIsGood) {
  Script script({0.8, 0.5, 0.85, 1.4, 0.7, 0.75, 0.6, 0.6});
  const auto gait = PlanAudited(AdvanceRequest(), script.Steps());
  ASSERT_THAT(gait, test::IsOk());
  EXPECT_EQ(script.variants.size(), 8);
  EXPECT_EQ(gait->report().variant(), 2);
  EXPECT_EQ(gait->audit().verdict(), v1::VERDICT_FAILED);
}

TEST(PlanAuditedTest, LetsFeetSlideOnSeveralSurfacesWhereNothingElseIsGood) {
  PlanRequest request = AdvanceRequest();
  request.order.add_also_on("felt");
  request.also_on.emplace_back();
  Script script({0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.95});
  const auto gait = PlanAudited(request, script.Steps());
  ASSERT_THAT(gait, test::IsOk());
  EXPECT_THAT(script.variants, ElementsAre(0, 1, 8));
  EXPECT_THAT(script.may_slide, ElementsAre(false, false, true));
  EXPECT_EQ(gait->report().variant(), 8);
  // A hop has no other variant but this one; an order of one surface does not have it.
  v1::Gait first;
  v1::GaitOrder hop;
  hop.add_also_on("felt");
  hop.mutable_task()->mutable_hop()->set_rise_m(0.005);
  for (int variant = 1; variant < 9; ++variant) {
    EXPECT_EQ(NextVariant(hop, first, variant).has_value(), variant == 8) << variant;
  }
  EXPECT_FALSE(NextVariant(AdvanceRequest().order, first, 8).has_value());
}

TEST(PlanAuditedTest, TriesOneOtherPatternForAPlanThatDoesNotConverge) {
  Script script({0.0, 0.0});
  const auto gait = PlanAudited(AdvanceRequest(), script.Steps());
  ASSERT_THAT(gait, test::IsOk());
  EXPECT_THAT(script.variants, ElementsAre(0, 1));
  EXPECT_EQ(gait->report().variant(), 0);
}

TEST(PlanAuditedTest, TriesTheFinestKnotsForAPlanThatStallsJustShortOfTolerance) {
  v1::Gait trot = SlowWalk(v1::PLAN_OUTCOME_AT_LIMIT);
  trot.mutable_report()->set_seed_pattern(v1::SEED_PATTERN_TROT);
  const v1::GaitOrder order = AdvanceRequest().order;
  for (const int idle : {2, 3, 4, 5, 6}) {
    EXPECT_FALSE(NextVariant(order, trot, idle).has_value()) << idle;
  }
  ASSERT_TRUE(NextVariant(order, trot, 7).has_value());
  EXPECT_EQ(NextVariant(order, trot, 7)->options.knot_count(), 160);
  trot.mutable_report()->set_outcome(v1::PLAN_OUTCOME_INFEASIBLE);
  EXPECT_FALSE(NextVariant(order, trot, 7).has_value());
}

TEST(PlanAuditedTest, LeavesWhatTheOrderFixes) {
  PlanRequest request = AdvanceRequest();
  request.order.mutable_options()->set_seed_pattern(v1::SEED_PATTERN_BOUND);
  Script script(std::vector<double>(8, 0.8));
  ASSERT_THAT(PlanAudited(request, script.Steps()), test::IsOk());
  EXPECT_THAT(script.patterns, testing::Each(v1::SEED_PATTERN_BOUND));
  EXPECT_THAT(script.variants, ElementsAre(0, 2, 7));
  EXPECT_THAT(script.steady_duties, testing::Each(0.0)) << "only a walk is steady";
  request.order.mutable_options()->set_knot_count(60);
  Script fixed({0.8});
  ASSERT_THAT(PlanAudited(request, fixed.Steps()), test::IsOk());
  EXPECT_THAT(fixed.variants, ElementsAre(0));
}

TEST(PlanAuditedTest, DoesNotPlanTheSameTwice) {
  const v1::Gait slow = SlowWalk(v1::PLAN_OUTCOME_CONVERGED);
  const v1::GaitOrder order = AdvanceRequest().order;
  for (const int repeat : {1, 2, 3}) {
    EXPECT_FALSE(NextVariant(order, slow, repeat).has_value()) << repeat;
  }
  ASSERT_TRUE(NextVariant(order, slow, 7).has_value());
  EXPECT_EQ(NextVariant(order, slow, 7)->options.knot_count(), 160);
  // A slow trot has 120 knots: its walk on 120 knots is the walk of variant 1.
  v1::Gait slow_trot = slow;
  slow_trot.mutable_report()->set_seed_pattern(v1::SEED_PATTERN_TROT);
  EXPECT_TRUE(NextVariant(order, slow_trot, 1).has_value());
  EXPECT_FALSE(NextVariant(order, slow_trot, 3).has_value());
}

TEST(PlanAuditedTest, SteadiesASlowWalkThatDoesNotReplayOrConverge) {
  const v1::GaitOrder order = AdvanceRequest().order;
  for (const v1::PlanOutcome outcome : {v1::PLAN_OUTCOME_CONVERGED, v1::PLAN_OUTCOME_AT_LIMIT}) {
    double last_duty = 0.75;
    for (const int variant : {4, 5, 6}) {
      const auto steady = NextVariant(order, SlowWalk(outcome), variant);
      ASSERT_TRUE(steady.has_value()) << variant;
      EXPECT_EQ(steady->options.seed_pattern(), v1::SEED_PATTERN_WALK);
      EXPECT_GT(steady->steady_duty, 0.5);
      EXPECT_LT(steady->steady_duty, last_duty);
      last_duty = steady->steady_duty;
    }
  }
  Script script({0.8, 0.8, 0.8, 0.8, 0.95});
  ASSERT_THAT(PlanAudited(AdvanceRequest(), script.Steps()), test::IsOk());
  EXPECT_THAT(script.steady_duties, ElementsAre(0.0, 0.0, 0.0, 0.0, 0.65));
}

TEST(PlanAuditedTest, PlansAHopOnce) {
  PlanRequest request;
  request.order.mutable_task()->mutable_hop()->set_rise_m(0.005);
  Script script({0.5});
  ASSERT_THAT(PlanAudited(request, script.Steps()), test::IsOk());
  EXPECT_THAT(script.variants, ElementsAre(0));
}

TEST(PlanAuditedTest, GoesOnInTheTrialOfItsCheckpoint) {
  PlanRequest request = AdvanceRequest();
  request.checkpoint.emplace().set_variant(2);
  Script script({0.8, 0.8, 0.8, 0.95});
  const auto gait = PlanAudited(request, script.Steps());
  ASSERT_THAT(gait, test::IsOk());
  EXPECT_THAT(script.variants, ElementsAre(2, 3));
  EXPECT_THAT(script.knots, ElementsAre(120, 120));
  EXPECT_THAT(script.had_checkpoint, ElementsAre(true, false));
}

TEST(PlanAuditedTest, StartsAnewFromACheckpointOfAnUnknownVariant) {
  PlanRequest request = AdvanceRequest();
  request.checkpoint.emplace().set_variant(99);
  Script script({0.95});
  ASSERT_THAT(PlanAudited(request, script.Steps()), test::IsOk());
  EXPECT_THAT(script.variants, ElementsAre(0));
  EXPECT_THAT(script.had_checkpoint, ElementsAre(false));
}

TEST(PlanAuditedTest, StopsAtOnce) {
  Script script({0.8, 0.8});
  script.stop_at_variant = 1;
  EXPECT_THAT(PlanAudited(AdvanceRequest(), script.Steps()),
              test::HasStatus(absl::StatusCode::kCancelled, testing::_));
  EXPECT_THAT(script.variants, ElementsAre(0, 1));
}

TEST(PlanAuditedTest, AMaximalAdvanceAsksForLessUntilItReplays) {
  PlanRequest request = AdvanceRequest();
  request.order.mutable_task()->mutable_advance()->clear_advance_m();
  request.order.mutable_task()->mutable_advance()->set_is_maximal(true);
  Script script({0.0, 0.7, 0.96});
  const auto gait = PlanAudited(request, script.Steps());
  ASSERT_THAT(gait, test::IsOk());
  EXPECT_THAT(script.variants, ElementsAre(0, 1, 2));
  EXPECT_THAT(script.reaches, ElementsAre(1.0, 0.95, 0.9));
  EXPECT_EQ(gait->report().variant(), 2);
}

}  // namespace
}  // namespace gaitshelf::solver
