#include "clients/cli/completion.h"

#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace gaitshelf::client {
namespace {

using testing::AllOf;
using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;

std::vector<VerbSpec> Verbs() {
  return {
      {"order", {}, "", "", "", {{"robot", "ROBOT", ""}, {"detach", "", ""}}},
      {"robot put", {"FILE"}, "", "", "", {}},
      {"trial put", {"FILE..."}, "", "", "", {}},
      {"calibrate", {"TRIAL..."}, "", "", "", {{"yes", "", ""}}},
      {"robot show", {"ROBOT"}, "", "", "", {}},
      {"plot",
       {"legs|map", "NAME"},
       "",
       "",
       "",
       {{"out", "FILE", "", true, "o"}, {"form", "header|csv", ""}, {"surface", "SURFACE,...", ""}},
       {{"legs", "GAIT"}, {"map", "GAIT|ROBOT"}}}};
}

std::vector<std::string> Words(const std::vector<std::string>& typed) {
  return Complete(Verbs(), typed).words;
}

TEST(CompletionTest, OffersVerbsAndTheirSecondWords) {
  EXPECT_THAT(Words({""}), ElementsAre("order", "robot", "trial", "calibrate", "plot"));
  EXPECT_THAT(Words({"ro"}), ElementsAre("robot"));
  EXPECT_THAT(Words({"robot", ""}), ElementsAre("put", "show"));
  EXPECT_THAT(Words({"robot", "s"}), ElementsAre("show"));
  EXPECT_THAT(Words({"dance", ""}), IsEmpty());
  EXPECT_THAT(Words({}), IsEmpty());
}

TEST(CompletionTest, OffersFlagsOfTheVerbAndOfEveryVerb) {
  EXPECT_THAT(Words({"order", "--"}), AllOf(Contains("--detach"), Contains("--json")));
  EXPECT_THAT(Words({"order", ""}), Contains("--robot"));
  EXPECT_THAT(Words({"order", "--de"}), ElementsAre("--detach"));
  EXPECT_THAT(Words({"plot", "legs", "g-1", ""}), Contains("--out"));
}

TEST(CompletionTest, OffersChoicesAndFilesWhereTheyBelong) {
  EXPECT_THAT(Words({"plot", ""}), ElementsAre("legs", "map"));
  EXPECT_THAT(Words({"plot", "--out", "a.png", "m"}), ElementsAre("map"));
  EXPECT_THAT(Words({"plot", "--form", ""}), ElementsAre("header", "csv"));
  EXPECT_THAT(Words({"order", "--robot", ""}), IsEmpty());
  EXPECT_TRUE(Complete(Verbs(), {"plot", "-o", ""}).is_file);
  EXPECT_TRUE(Complete(Verbs(), {"robot", "put", ""}).is_file);
  EXPECT_TRUE(Complete(Verbs(), {"trial", "put", "a.csv", "b"}).is_file);
  EXPECT_FALSE(Complete(Verbs(), {"robot", "show", ""}).is_file);
}

TEST(CompletionTest, SaysWhoseNamesBelongThere) {
  const auto kinds = [](const std::vector<std::string>& typed) {
    return Complete(Verbs(), typed).kinds;
  };
  EXPECT_THAT(kinds({"robot", "show", ""}), ElementsAre(NameKind::kRobot));
  EXPECT_THAT(kinds({"order", "--robot", "we"}), ElementsAre(NameKind::kRobot));
  EXPECT_THAT(kinds({"plot", "legs", ""}), ElementsAre(NameKind::kGait));
  EXPECT_THAT(kinds({"plot", "-o", "a.png", "map", ""}),
              ElementsAre(NameKind::kGait, NameKind::kRobot));
  EXPECT_THAT(kinds({"calibrate", ""}), ElementsAre(NameKind::kTrial));
  EXPECT_THAT(kinds({"calibrate", "t-1", "--yes", "t"}), ElementsAre(NameKind::kTrial));
  EXPECT_THAT(kinds({"plot", ""}), IsEmpty());
  EXPECT_THAT(kinds({"order", "--detach", ""}), IsEmpty());
}

TEST(CompletionTest, CompletesTheLastNameOfAListAndTheValueInAFlagsWord) {
  Candidates list = Complete(Verbs(), {"plot", "--surface", "felt,ta"});
  EXPECT_THAT(list.kinds, ElementsAre(NameKind::kSurface));
  EXPECT_EQ(list.before, "felt,");
  EXPECT_EQ(list.typed, "ta");
  const Candidates joined = Complete(Verbs(), {"order", "--robot=we"});
  EXPECT_THAT(joined.kinds, ElementsAre(NameKind::kRobot));
  EXPECT_EQ(joined.typed, "we");
  EXPECT_THAT(Words({"plot", "--form=c"}), ElementsAre("csv"));
}

TEST(CompletionTest, ScriptAsksThisProgram) {
  EXPECT_THAT(BashCompletion(),
              AllOf(HasSubstr("\"${words[0]}\" complete-words \"${words[@]"),
                    HasSubstr("complete -F _gaitshelf gaitshelf"),
                    Not(HasSubstr("order"))));
}

}  // namespace
}  // namespace gaitshelf::client
