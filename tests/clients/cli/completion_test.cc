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
  return {{"order", {}, "", "", "", {{"robot", "NAME", ""}, {"detach", "", ""}}},
          {"robot put", {"FILE"}, "", "", "", {}},
          {"robot show", {"NAME"}, "", "", "", {}},
          {"plot",
           {"legs|body", "NAME"},
           "",
           "",
           "",
           {{"out", "FILE", "", true, "o"}, {"form", "header|csv", ""}}}};
}

std::vector<std::string> Words(const std::vector<std::string>& typed) {
  return Complete(Verbs(), typed).words;
}

TEST(CompletionTest, OffersVerbsAndTheirSecondWords) {
  EXPECT_THAT(Words({""}), ElementsAre("order", "robot", "plot"));
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
  EXPECT_THAT(Words({"plot", ""}), ElementsAre("legs", "body"));
  EXPECT_THAT(Words({"plot", "--out", "a.png", "b"}), ElementsAre("body"));
  EXPECT_THAT(Words({"plot", "--form", ""}), ElementsAre("header", "csv"));
  EXPECT_THAT(Words({"order", "--robot", ""}), IsEmpty());
  EXPECT_TRUE(Complete(Verbs(), {"plot", "-o", ""}).is_file);
  EXPECT_TRUE(Complete(Verbs(), {"robot", "put", ""}).is_file);
  EXPECT_FALSE(Complete(Verbs(), {"robot", "show", ""}).is_file);
}

TEST(CompletionTest, ScriptAsksThisProgram) {
  EXPECT_THAT(BashCompletion(),
              AllOf(HasSubstr("\"${COMP_WORDS[0]}\" complete-words \"${COMP_WORDS[@]"),
                    HasSubstr("complete -F _gaitshelf gaitshelf"),
                    Not(HasSubstr("order"))));
}

}  // namespace
}  // namespace gaitshelf::client
