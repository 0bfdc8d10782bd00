#include "clients/cli/gait_text.h"

#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"

namespace gaitshelf::client {
namespace {

using testing::AllOf;
using testing::ContainsRegex;
using testing::Each;
using testing::HasSubstr;
using testing::Le;
using testing::MatchesRegex;
using testing::Not;
using testing::ResultOf;

const char kName[] = "g-0123456789abcdef0123456789abcdef";

std::size_t Width(const std::string& line) { return line.size(); }

v1::Gait MakeGait() {
  v1::Gait gait;
  gait.set_name(kName);
  gait.set_robot("weevil");
  gait.set_surface("duct-steel");
  gait.set_stride_frequency_hz(12);
  gait.mutable_task()->mutable_advance()->set_advance_m(0.009);
  gait.set_is_periodic(true);
  gait.set_knot_count(4);
  gait.set_knot_period_s(1.0 / 48);
  gait.add_foot_names("front-left");
  gait.add_foot_names("rear-left");
  for (int knot = 0; knot < 4; ++knot) {
    for (int foot = 0; foot < 2; ++foot) {
      gait.add_foot_force_n(0);
      gait.add_foot_force_n(0);
      // The first foot stands for one knot of four, the second always.
      gait.add_foot_force_n(foot == 1 || knot == 2 ? 0.0125 : 0.0);
    }
  }
  gait.mutable_report()->add_touchdown_count(1);
  gait.mutable_report()->add_touchdown_count(1);
  return gait;
}

TEST(GaitTextTest, ShowsOneLineForEachFoot) {
  const std::string text = GaitText(MakeGait());
  EXPECT_THAT(text, ContainsRegex("front-left +1 +- +- +- +0\\.25 +12\\.50"));
  EXPECT_THAT(text, ContainsRegex("rear-left +1 +- +- +- +1\\.00 +12\\.50"));
  EXPECT_THAT(text, HasSubstr("weevil on duct-steel, advance 9 mm at 12 Hz"));
  EXPECT_THAT(text, AllOf(HasSubstr("audit: not audited"), Not(HasSubstr("replay under"))));
}

TEST(GaitTextTest, ShowsWhichVariantAndRungGaveThePlan) {
  v1::Gait gait = MakeGait();
  gait.mutable_report()->set_variant(2);
  gait.mutable_report()->set_retry_rung(1);
  EXPECT_THAT(GaitText(gait), HasSubstr("variant 2, retry rung 1, rng"));
  gait.mutable_report()->set_seed_pattern(v1::SEED_PATTERN_WALK);
  EXPECT_THAT(GaitText(gait), HasSubstr("variant 2, retry rung 1, seed walk, rng"));
}

TEST(GaitTextTest, ShowsAnObjectiveThatIsNotTheUsualOne) {
  v1::Gait gait = MakeGait();
  gait.set_objective(v1::OBJECTIVE_LEAST_EFFORT);
  EXPECT_THAT(GaitText(gait), Not(HasSubstr("objective")));
  gait.set_objective(v1::OBJECTIVE_LEAST_PEAK_VOLTAGE);
  EXPECT_THAT(GaitText(gait), HasSubstr("  objective least peak voltage\n"));
}

TEST(GaitTextTest, ShowsWhyAnAuditFailed) {
  v1::Gait gait = MakeGait();
  gait.mutable_audit()->set_verdict(v1::VERDICT_FAILED);
  gait.mutable_audit()->add_reasons("replayed advance of 3.1 mm is 34 % of the plan");
  gait.mutable_audit()->mutable_residuals()->set_worst_ratio(2.5e-7);
  gait.mutable_audit()->mutable_replay()->add_cycle_advance_m(0.0031);
  EXPECT_THAT(GaitText(gait),
              AllOf(HasSubstr("audit: failed\n    replayed advance of 3.1 mm"),
                    HasSubstr("worst       2.5e-07"),
                    HasSubstr("each cycle: 3.10 mm")));
}

TEST(GaitTextTest, FitsATerminal) {
  v1::Gait gait = MakeGait();
  gait.mutable_audit()->set_verdict(v1::VERDICT_GOOD);
  EXPECT_THAT(std::vector<std::string>(absl::StrSplit(GaitText(gait), '\n')),
              Each(ResultOf(Width, Le(80U))));
  v1::ListGaitsResponse list;
  for (const double frequency_hz : {0.123, 199.999}) {
    v1::GaitSummary& summary = *list.add_gaits();
    summary.set_name(kName);
    summary.set_surface("a-surface-with-a-long-name");
    summary.set_stride_frequency_hz(frequency_hz);
    summary.set_advance_m(-0.0999);
    summary.set_replayed_advance_m(-0.0999);
    summary.set_verdict(v1::VERDICT_FAILED);
    summary.set_is_superseded(true);
  }
  const std::string table = GaitTable(list);
  EXPECT_THAT(std::vector<std::string>(absl::StrSplit(table, '\n')),
              Each(ResultOf(Width, Le(80U))));
  EXPECT_THAT(table, AllOf(HasSubstr(kName), HasSubstr("newer version")));
}

TEST(GaitTextTest, ShowsEachOfSeveralSurfaces) {
  v1::Gait gait = MakeGait();
  gait.add_also_on()->set_surface("liner-felt");
  gait.add_also_on()->set_surface("grit-tape");
  v1::Audit& audit = *gait.mutable_audit();
  audit.set_worst_advance_error_ratio(0.0425);
  for (const char* name : {"duct-steel", "liner-felt", "grit-tape"}) {
    v1::SurfaceAudit& entry = *audit.add_surfaces();
    entry.set_surface(name);
    entry.set_verdict(v1::VERDICT_GOOD);
    entry.set_advance_m(0.0088);
    entry.set_plan_ratio(0.978);
    entry.set_slip_m(0.0001);
    entry.set_worst_residual_ratio(4e-7);
    entry.set_is_lawful(entry.surface() != "grit-tape");
  }
  const std::string text = GaitText(gait);
  EXPECT_THAT(text, HasSubstr("weevil on duct-steel, liner-felt and grit-tape, advance 9 mm"));
  EXPECT_THAT(text, HasSubstr("off the plan by 4.2 % at most"));
  EXPECT_THAT(text, ContainsRegex("liner-felt +good +8\\.80 +0\\.978 +0\\.100 +4\\.0e-07 +hold"));
  EXPECT_THAT(text, ContainsRegex("grit-tape .* slides"));
  EXPECT_THAT(std::vector<std::string>(absl::StrSplit(text, '\n')), Each(ResultOf(Width, Le(80U))));
  v1::ListGaitsResponse list;
  v1::GaitSummary& summary = *list.add_gaits();
  summary.set_surface("duct-steel");
  summary.add_also_on("liner-felt");
  EXPECT_THAT(GaitTable(list),
              AllOf(HasSubstr("duct-ste+1"), HasSubstr("+ good on that many more surfaces")));
}

TEST(GaitTextTest, ShowsWhatATransitionLeadsInto) {
  v1::Gait gait = MakeGait();
  gait.set_is_periodic(false);
  v1::Transition& way = *gait.mutable_task()->mutable_transition();
  way.set_from_gait(kName);
  way.set_to_gait(kName);
  v1::TransitionReport& report = *gait.mutable_audit()->mutable_replay()->mutable_transition();
  report.set_before_advance_m(0.0089);
  report.set_advance_m(0.0181);
  report.set_after_advance_m(0.0079);
  report.set_after_ratio(0.985);
  const std::string text = GaitText(gait);
  EXPECT_THAT(text, HasSubstr("before 8.90 mm per cycle; on the way 18.10 mm; after 7.90 mm"));
  EXPECT_THAT(text, HasSubstr("0.985 of what that gait makes by itself"));
  EXPECT_THAT(std::vector<std::string>(absl::StrSplit(text, '\n')), Each(ResultOf(Width, Le(80U))));
}

TEST(GaitTextTest, ShowsSpreadAndRivalWhenTheAuditHasThem) {
  v1::Gait gait = MakeGait();
  gait.mutable_audit()->mutable_replay()->set_advance_m(0.0088);
  EXPECT_THAT(GaitText(gait), Not(HasSubstr("hand-tuned")));
  EXPECT_THAT(GaitText(gait), Not(HasSubstr("spread")));
  v1::Spread& spread = *gait.mutable_audit()->mutable_spread();
  spread.set_replay_count(16);
  spread.set_mean_m(0.0087);
  spread.set_p05_m(0.0081);
  spread.set_fall_ratio(0.125);
  v1::HandTuned& rival = *gait.mutable_audit()->mutable_hand_tuned();
  rival.set_replay_count(8);
  rival.set_advance_m(0.008);
  rival.set_seed_pattern(v1::SEED_PATTERN_TROT);
  const std::string text = GaitText(gait);
  EXPECT_THAT(text, HasSubstr("spread over 16 replays"));
  EXPECT_THAT(text, HasSubstr("5th percentile 8.10 mm"));
  EXPECT_THAT(text, HasSubstr("12 % fell"));
  EXPECT_THAT(text, HasSubstr("best of 8 replays"));
  EXPECT_THAT(text, HasSubstr("displacement 8.00 mm; this gait goes +10.0 % further"));
  for (const std::string& line : std::vector<std::string>(absl::StrSplit(text, '\n'))) {
    EXPECT_LE(line.size(), 80U) << line;
  }
  rival.clear_advance_m();
  EXPECT_THAT(GaitText(gait), HasSubstr("none: every one falls"));
}

TEST(GaitTextTest, ShowsLoadsInsideTheMechanismWhenTheReplayHasThem) {
  v1::Gait gait = MakeGait();
  gait.mutable_audit()->mutable_replay()->set_advance_m(0.0088);
  EXPECT_THAT(GaitText(gait), Not(HasSubstr("mechanism")));
  v1::MechanismReport& mechanism = *gait.mutable_audit()->mutable_replay()->mutable_mechanism();
  mechanism.set_coordinate_count(38);
  mechanism.set_loop_equation_count(24);
  mechanism.mutable_most_bent()->set_leg("front-left");
  mechanism.mutable_most_bent()->set_flexure("f");
  mechanism.mutable_most_bent()->set_angle_rad(0.3490658503988659);
  mechanism.mutable_most_loaded()->set_leg("rear-right");
  mechanism.mutable_most_loaded()->set_flexure("g");
  mechanism.mutable_most_loaded()->set_force_n(0.0572);
  mechanism.set_compiled_advance_m(0.0089);
  mechanism.set_compiled_deviation_ratio(-0.00125);
  std::string text = GaitText(gait);
  EXPECT_THAT(text,
              AllOf(HasSubstr("inside the mechanism, 38 coordinates and 24 loop equations"),
                    HasSubstr("bends most: f of front-left, 20.0 deg\n"),
                    HasSubstr("loaded most: g of rear-right, 57.2 mN"),
                    HasSubstr("on the compiled legs 8.90 mm, apart by -0.125 % of the plan"),
                    Not(HasSubstr("strained"))));
  *mechanism.mutable_most_strained() = mechanism.most_bent();
  mechanism.mutable_most_strained()->set_strain_ratio(0.0263);
  text = GaitText(gait);
  EXPECT_THAT(text, HasSubstr("strained most: f of front-left, 20.0 deg, film strained by 2.63 %"));
  EXPECT_THAT(std::vector<std::string>(absl::StrSplit(text, '\n')), Each(ResultOf(Width, Le(80U))));
}

TEST(GaitTextTest, ListsAHopByItsRise) {
  v1::ListGaitsResponse list;
  v1::GaitSummary& summary = *list.add_gaits();
  summary.mutable_task()->mutable_hop()->set_rise_m(0.009);
  summary.set_rise_m(0.009);
  summary.set_replayed_rise_m(0.00905);
  EXPECT_THAT(GaitTable(list), ContainsRegex("hop +9\\.00 +9\\.05"));
}

TEST(GaitTextTest, HasATableForEachRobot) {
  v1::ListGaitsResponse list;
  for (const char* robot : {"weevil", "earwig", "weevil"}) {
    v1::GaitSummary& gait = *list.add_gaits();
    gait.set_name(absl::StrCat("g-", list.gaits_size()));
    gait.set_robot(robot);
  }
  EXPECT_THAT(GaitTable(list),
              MatchesRegex("weevil\ngait .*\ng-1 .*\ng-3 .*\n\nearwig\ngait .*\ng-2 .*\n"));
  list.mutable_gaits()->DeleteSubrange(1, 1);
  EXPECT_THAT(GaitTable(list), Not(HasSubstr("weevil"))) << "one robot needs no heading";
}

}  // namespace
}  // namespace gaitshelf::client
