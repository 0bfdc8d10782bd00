#include "clients/cli/help_text.h"

#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_split.h"

namespace gaitshelf::client {
namespace {

using testing::AllOf;
using testing::HasSubstr;

VerbSpec Example() {
  return {
      "fetch",
      {"one|two"},
      "fetches",
      "A text that is long enough for two lines of a terminal, and does not care where the "
      "source\nhas its line breaks.",
      "gaitshelf fetch one --where a-place-that-has-a-rather-long-name --when tomorrow-morning "
      "--how slowly\ngaitshelf fetch two",
      {{"where", "PLACE", "a help that goes on and on, so that it takes a second line too", true},
       {"when", "TIME", ""},
       {"how", "slowly|quickly|not-at-all", "in which manner"}}};
}

TEST(HelpTextTest, FitsATerminal) {
  for (const std::string& text : {VerbHelp(Example()), GeneralHelp({Example()})}) {
    for (const absl::string_view line : absl::StrSplit(text, '\n')) {
      EXPECT_LE(line.size(), 80U) << line;
    }
  }
}

TEST(HelpTextTest, SaysWhatAVerbTakes) {
  EXPECT_EQ(Usage(Example()), "gaitshelf fetch one|two --where PLACE");
  EXPECT_THAT(VerbHelp(Example()),
              AllOf(HasSubstr("does not care where\nthe source has its line breaks.\n"),
                    HasSubstr("it takes a second\n                         line too\n"),
                    HasSubstr("  --how slowly|quickly|not-at-all\n"
                              "                         in which manner\n"),
                    HasSubstr("\nexamples\n  gaitshelf fetch one")));
  EXPECT_THAT(GeneralHelp({Example()}), HasSubstr("\n  fetch KIND          fetches\n"));
}

TEST(HelpTextTest, BreaksCommandsBeforeFlagsSoThatAShellReadsThem) {
  const std::string line(Example().examples, 0, Example().examples.find('\n'));
  EXPECT_EQ(WrapCommand(line, 4),
            "gaitshelf fetch one --where a-place-that-has-a-rather-long-name \\\n"
            "    --when tomorrow-morning --how slowly");
  EXPECT_EQ(WrapCommand("gaitshelf fetch two", 4), "gaitshelf fetch two");
}

}  // namespace
}  // namespace gaitshelf::client
