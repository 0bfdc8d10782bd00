#include "solver/measure/check_trial.h"

#include <cstdint>
#include <functional>
#include <limits>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "solver/base/constants.h"
#include "tests/solver/measure/trials.h"

namespace gaitshelf::solver {
namespace {

using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

std::vector<std::string> TextsOf(const Violations& violations) {
  std::vector<std::string> texts;
  for (const v1::FieldViolation& one : violations) {
    EXPECT_FALSE(one.mend().empty()) << one.field();
    texts.push_back(absl::StrCat(one.field(), ": ", one.value(), " ", one.problem()));
  }
  return texts;
}

std::vector<std::string> FaultsOf(const std::function<void(v1::Trial*)>& spoil) {
  v1::Trial trial = test::MakeTrial();
  spoil(&trial);
  return TextsOf(ResolveTrial(test::MakeParts(), &trial));
}

TEST(ResolveTrialTest, ReadsTheLabels) {
  v1::Trial trial = test::MakeTrial();
  EXPECT_THAT(TextsOf(ResolveTrial(test::MakeParts(), &trial)), IsEmpty());
  EXPECT_EQ(trial.groups(0).columns(1).quantity(), v1::TRIAL_QUANTITY_BODY_POSITION);
  EXPECT_EQ(trial.groups(0).columns(1).si_ratio(), 1e-3);
}

TEST(ResolveTrialTest, TellsEveryFaultOfTheDescription) {
  const auto label = [](const char* text) {
    return
        [text](v1::Trial* trial) { trial->mutable_groups(0)->mutable_columns(1)->set_label(text); };
  };
  EXPECT_THAT(FaultsOf(label("leg-3 lift [mm]")),
              ElementsAre(HasSubstr("groups[0].columns[1].label: \"leg-3 lift [mm]\" nothing is")));
  EXPECT_THAT(FaultsOf(label("body x [V]")), ElementsAre(HasSubstr("does not fit")));
  EXPECT_THAT(
      FaultsOf(label("leg-1 contact")),
      ElementsAre(HasSubstr("columns[2].label: \"leg-1 contact\" is measured by columns[1]")));
  EXPECT_THAT(
      FaultsOf([](v1::Trial* trial) { trial->mutable_groups(0)->set_sample_rate_hz(50.0); }),
      ElementsAre(HasSubstr("groups[0].sample_rate_hz: 50 must be 0")));
  EXPECT_THAT(FaultsOf([](v1::Trial* trial) { trial->mutable_groups(1)->clear_sample_rate_hz(); }),
              ElementsAre(HasSubstr("groups[1].sample_rate_hz: missing")));
  EXPECT_THAT(
      FaultsOf([](v1::Trial* trial) { trial->mutable_groups(1)->set_sample_rate_hz(0.01); }),
      ElementsAre(HasSubstr("0.01")));
  EXPECT_THAT(FaultsOf([](v1::Trial* trial) { trial->mutable_groups(1)->set_sample_rate_hz(1e9); }),
              ElementsAre(HasSubstr("1e+09")));
  EXPECT_THAT(FaultsOf([](v1::Trial* trial) { trial->mutable_groups(1)->clear_clock(); }),
              ElementsAre(HasSubstr("groups[1].clock: missing")));
  EXPECT_THAT(FaultsOf([](v1::Trial* trial) { trial->mutable_groups(1)->set_name("tracking"); }),
              ElementsAre(HasSubstr("another group")));
  EXPECT_THAT(FaultsOf([](v1::Trial* trial) { trial->mutable_groups(1)->set_name("On Board"); }),
              ElementsAre(HasSubstr("groups[1].name")));
  EXPECT_THAT(FaultsOf([](v1::Trial* trial) { trial->mutable_groups(1)->clear_columns(); }),
              Contains(HasSubstr("groups[1].columns: missing")));
  EXPECT_THAT(FaultsOf([](v1::Trial* trial) { trial->clear_groups(); }),
              ElementsAre(HasSubstr("groups: missing")));
  EXPECT_THAT(FaultsOf([](v1::Trial* trial) { trial->clear_kind(); }),
              ElementsAre(HasSubstr("kind: missing")));
  for (const std::int64_t seconds : {-62135596801LL, 253402300800LL}) {
    EXPECT_THAT(
        FaultsOf([=](v1::Trial* trial) { trial->mutable_measure_time()->set_seconds(seconds); }),
        ElementsAre(HasSubstr("measure_time: ")));
  }
  EXPECT_THAT(FaultsOf([](v1::Trial* trial) { trial->mutable_measure_time()->set_nanos(-1); }),
              ElementsAre(HasSubstr("measure_time: 0 s and -1 ns")));
  EXPECT_THAT(
      FaultsOf([](v1::Trial* trial) { trial->mutable_measure_time()->set_seconds(1795867200); }),
      IsEmpty());
  EXPECT_THAT(FaultsOf([](v1::Trial* trial) { trial->clear_gait(); }),
              ElementsAre(HasSubstr("gait: missing")));
  EXPECT_THAT(FaultsOf([](v1::Trial* trial) {
                trial->mutable_groups(1)->clear_clock();
                trial->mutable_groups(0)->mutable_columns(0)->set_label("clock");
              }),
              testing::SizeIs(3));  // the groups lacks its time, too
}

TEST(ResolveTrialTest, EachKindNeedsItsColumns) {
  v1::Trial tilt;
  tilt.set_kind(v1::TRIAL_KIND_TILT);
  test::AddGroup("slides", v1::TRIAL_CLOCK_BENCH, {"tilt [deg]"}, &tilt);
  EXPECT_THAT(TextsOf(ResolveTrial({}, &tilt)), ElementsAre(HasSubstr("surface: missing")));
  tilt.set_surface("duct-steel");
  EXPECT_THAT(TextsOf(ResolveTrial({}, &tilt)), IsEmpty());
  tilt.set_kind(v1::TRIAL_KIND_SLED);
  EXPECT_THAT(TextsOf(ResolveTrial({}, &tilt)),
              ElementsAre(HasSubstr("pull force"), HasSubstr("normal force")));
  EXPECT_THAT(
      FaultsOf([](v1::Trial* trial) { trial->set_kind(v1::TRIAL_KIND_CHIRP); }),
      ElementsAre(HasSubstr("gait: \"g-1\""), HasSubstr("robot: missing"), HasSubstr("voltage")));
}

class SampleCheckTest : public testing::Test {
 protected:
  void SetUp() override { ASSERT_THAT(ResolveTrial(test::MakeParts(), &trial_), IsEmpty()); }

  // Faults after rows of group 0: time, body x, contact.
  std::vector<std::string> FaultsOf(const std::vector<double>& values) {
    SampleCheck check(&trial_);
    check.Add(test::MakeBlock(0, 0, {1.0, 0.0, 1.0}));
    check.Add(test::MakeBlock(0, 1, values));
    check.Add(test::MakeBlock(1, 0, {0.0, 0.1}));
    check.Finish();
    EXPECT_EQ(check.ok(), check.violations().empty());
    return TextsOf(check.violations());
  }

  v1::Trial trial_ = test::MakeTrial();
};

TEST_F(SampleCheckTest, TakesGapsAndMissingSamples) {
  EXPECT_THAT(FaultsOf({2.0, kNan, 0.0, 500.0, 1.0, kNan}), IsEmpty());
}

TEST_F(SampleCheckTest, NamesRowAndColumnOfEveryFault) {
  EXPECT_THAT(FaultsOf({2.0, 1e6, 0.0, 1.5, 2.0, 1.0, kNan, 2.0, 7.0}),
              ElementsAre(HasSubstr("group 'tracking' row 2 column 'body x [mm]': 1e+06 must be "
                                    "-100000 to 100000"),
                          HasSubstr("group 'tracking' row 3 column 'time [ms]': 1.5 must be later "
                                    "than the row before, which is at 2"),
                          HasSubstr("group 'tracking' row 4 column 'time [ms]': missing"),
                          HasSubstr("group 'tracking' row 4 column 'leg-1 contact': 7")));
  EXPECT_THAT(FaultsOf({2.0, std::numeric_limits<double>::infinity(), 0.0}),
              ElementsAre(HasSubstr("inf must be")));
  EXPECT_THAT(FaultsOf({std::numeric_limits<double>::infinity(), 0.0, 0.0}),
              ElementsAre(HasSubstr("column 'time [ms]': inf must be")));
}

TEST_F(SampleCheckTest, RefusesTornAndMisplacedBlocks) {
  EXPECT_THAT(FaultsOf({2.0, 1.0}),
              ElementsAre(HasSubstr("row 2 onwards: 2 values must be whole rows of 3")));
  EXPECT_THAT(FaultsOf({}), ElementsAre(HasSubstr("row 2 onwards: 0 values")));
  SampleCheck check(&trial_);
  check.Add(test::MakeBlock(0, 5, {1.0, 0.0, 1.0}));
  check.Add(test::MakeBlock(2, 0, {1.0}));
  check.Finish();
  EXPECT_THAT(TextsOf(check.violations()),
              ElementsAre(HasSubstr("first_row 5 must be 0"), HasSubstr("group_index: 2")));
}

TEST_F(SampleCheckTest, EveryGroupNeedsRows) {
  SampleCheck check(&trial_);
  check.Add(test::MakeBlock(0, 0, {1.0, 0.0, 1.0}));
  check.Finish();
  EXPECT_THAT(TextsOf(check.violations()),
              ElementsAre(HasSubstr("group 'tracking': 1 rows needs at least 2"),
                          HasSubstr("group 'on-board': 0 rows")));
}

// A stream that broke off looks like one that ended.
TEST_F(SampleCheckTest, HoldsTheRowsAgainstTheStatedNumber) {
  trial_.mutable_groups(0)->set_row_count(3);
  trial_.mutable_groups(1)->set_row_count(2);
  EXPECT_THAT(FaultsOf({2.0, 0.0, 1.0, 3.0, 0.0, 1.0}), IsEmpty());
  EXPECT_THAT(FaultsOf({2.0, 0.0, 1.0}),
              ElementsAre(HasSubstr("group 'tracking' row 3 onwards: 2 rows came must be 3")));
}

TEST_F(SampleCheckTest, CountsWhatItDoesNotTell) {
  std::vector<double> values;
  for (int i = 0; i < 100; ++i) {
    values.insert(values.end(), {2.0 + i, 0.0, -5.0});
  }
  const std::vector<std::string> faults = FaultsOf(values);
  ASSERT_EQ(faults.size(), 21U);
  EXPECT_THAT(faults.back(), HasSubstr("samples: 100 faults"));
}

}  // namespace
}  // namespace gaitshelf::solver
