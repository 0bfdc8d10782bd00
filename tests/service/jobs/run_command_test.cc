#include "service/jobs/run_command.h"

#include <string>

#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using testing::HasSubstr;

TEST(RunCommandTest, GivesTheInputAndTakesTheOutput) {
  const std::string text(50'000, 'x');
  EXPECT_EQ(*RunCommand({"cat"}, text, 10), text);
  EXPECT_EQ(*RunCommand({"printf", "%s|", "two words", "$HOME"}, "", 10), "two words|$HOME|");
}

TEST(RunCommandTest, TellsWhatTheProgramSaidWhenItFails) {
  EXPECT_THAT(
      RunCommand({"sh", "-c", "echo half; echo 'no such thing' >&2; exit 3"}, "", 10),
      test::HasStatus(absl::StatusCode::kUnavailable,
                      testing::AllOf(HasSubstr("exit status 3"), HasSubstr("no such thing"))));
  EXPECT_THAT(RunCommand({"no-such-program-here"}, "", 10),
              test::HasStatus(absl::StatusCode::kUnavailable, HasSubstr("no-such-program-here")));
  EXPECT_TRUE(absl::IsInvalidArgument(RunCommand({}, "", 10).status()));
  EXPECT_TRUE(absl::IsInvalidArgument(RunCommand({"cat"}, std::string(70'000, 'x'), 10).status()));
}

TEST(RunCommandTest, DoesNotWaitForEver) {
  EXPECT_THAT(RunCommand({"sleep", "60"}, "", 0.1),
              test::HasStatus(absl::StatusCode::kDeadlineExceeded, HasSubstr("sleep")));
}

}  // namespace
}  // namespace gaitshelf::service
