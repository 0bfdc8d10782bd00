#include "clients/cli/arguments.h"

#include <string>

#include "tests/support/status_matchers.h"

namespace gaitshelf::client {
namespace {

using test::HasStatus;
using test::IsOk;
using testing::AllOf;
using testing::ElementsAre;
using testing::HasSubstr;

VerbSpec Example() {
  return {"fetch",
          {"GAIT"},
          "",
          "",
          "",
          {{"advance", "LENGTH", "", true}, {"detach", "", ""}, {"knots", "NUMBER", ""}}};
}

TEST(ArgumentsTest, ReadsWordsFlagsAndSwitches) {
  const auto arguments =
      ParseArguments(Example(), {"--advance", "-9mm", "g-1", "--knots=40", "--detach"});
  ASSERT_THAT(arguments, IsOk());
  EXPECT_THAT(arguments->words(), ElementsAre("g-1"));
  EXPECT_EQ(arguments->Value("advance"), "-9mm");
  EXPECT_EQ(arguments->Value("knots"), "40");
  EXPECT_TRUE(arguments->Has("detach"));
  EXPECT_FALSE(arguments->Has("json"));
}

TEST(ArgumentsTest, ReadsLettersAndChoices) {
  VerbSpec verb = Example();
  verb.words = {"bash|text"};
  verb.flags = {{"out", "FILE", "", false, "o"}, {"form", "header|csv", ""}};
  const auto arguments = ParseArguments(verb, {"bash", "-o", "a.h", "--form", "csv"});
  ASSERT_THAT(arguments, IsOk());
  EXPECT_EQ(arguments->Value("out"), "a.h");
  EXPECT_THAT(ParseArguments(verb, {"fish", "--form=tsv"}),
              HasStatus(absl::StatusCode::kInvalidArgument,
                        AllOf(HasSubstr("'fish' is no choice; use bash, text"),
                              HasSubstr("--form: 'tsv' is no choice; use header, csv"))));
  EXPECT_THAT(Choices("FILE"), testing::IsEmpty());
}

TEST(ArgumentsTest, ReportsAllFaultsAtOnce) {
  EXPECT_THAT(
      ParseArguments(Example(), {"--knot", "40", "--detach=yes", "--knots", "1", "--knots", "2"}),
      HasStatus(absl::StatusCode::kInvalidArgument,
                AllOf(HasSubstr("meant --knots?"),
                      HasSubstr("--detach takes no value"),
                      HasSubstr("--knots is given twice"),
                      HasSubstr("--advance LENGTH is missing"))));
  EXPECT_THAT(ParseArguments(Example(), {"--advance"}),
              HasStatus(absl::StatusCode::kInvalidArgument,
                        AllOf(HasSubstr("--advance needs a value"), HasSubstr("GAIT is missing"))));
  EXPECT_THAT(ParseArguments(Example(), {"a", "b", "--advance", "1mm"}),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("'b' is one word too many")));
}

TEST(ArgumentsTest, AsksForNothingWhenHelpIsWanted) {
  const auto arguments = ParseArguments(Example(), {"--help"});
  ASSERT_THAT(arguments, IsOk());
  EXPECT_TRUE(arguments->Has("help"));
}

TEST(ArgumentsTest, FindsTheNearestWordOnlyWhenNear) {
  EXPECT_EQ(NearestWord("ordr", {"order", "watch"}), "order");
  EXPECT_EQ(NearestWord("wacth", {"order", "watch"}), "watch");
  EXPECT_EQ(NearestWord("zebra", {"order", "watch"}), "");
}

}  // namespace
}  // namespace gaitshelf::client
