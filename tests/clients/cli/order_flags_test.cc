#include "clients/cli/order_flags.h"

#include <string>
#include <vector>

#include "tests/support/status_matchers.h"

namespace gaitshelf::client {
namespace {

using test::HasStatus;
using test::IsOk;
using testing::AllOf;
using testing::HasSubstr;

absl::StatusOr<v1::GaitOrder> Read(std::vector<std::string> words) {
  words.insert(words.end(), {"--robot", "weevil", "--surface", "duct-steel"});
  const auto arguments = ParseArguments({"order", {}, "", "", "", OrderFlags()}, words);
  if (!arguments.ok()) {
    return arguments.status();
  }
  return ReadOrder(*arguments);
}

TEST(OrderFlagsTest, ReadsAnAdvance) {
  const auto order = Read(
      {"--frequency", "12Hz", "--advance", "9mm", "--seed", "trot", "--rng", "7", "--knots", "80"});
  ASSERT_THAT(order, IsOk());
  EXPECT_EQ(order->robot(), "weevil");
  EXPECT_EQ(order->surface(), "duct-steel");
  EXPECT_EQ(order->stride_frequency_hz(), 12.0);
  EXPECT_EQ(order->task().advance().advance_m(), 0.009);
  EXPECT_EQ(order->options().seed_pattern(), v1::SEED_PATTERN_TROT);
  EXPECT_EQ(order->options().rng(), 7);
  EXPECT_EQ(order->options().knot_count(), 80);
}

TEST(OrderFlagsTest, ReadsAHop) {
  const auto order = Read({"--hop", "9mm"});
  ASSERT_THAT(order, IsOk());
  EXPECT_EQ(order->task().hop().rise_m(), 0.009);
  EXPECT_EQ(order->stride_frequency_hz(), 0.0);
}

TEST(OrderFlagsTest, RefusesTasksThatDoNotGoTogether) {
  const auto code = absl::StatusCode::kInvalidArgument;
  EXPECT_THAT(Read({}), HasStatus(code, HasSubstr("say --advance LENGTH or --hop LENGTH")));
  EXPECT_THAT(Read({"--advance", "9mm"}), HasStatus(code, HasSubstr("--frequency: is missing")));
  EXPECT_THAT(Read({"--advance", "9mm", "--hop", "9mm", "--frequency", "3Hz"}),
              HasStatus(code, HasSubstr("--hop: does not go with --advance")));
  EXPECT_THAT(Read({"--hop", "9mm", "--frequency", "3Hz"}),
              HasStatus(code, HasSubstr("a hop has no stride frequency")));
}

TEST(OrderFlagsTest, NamesEveryFlagThatCannotBeRead) {
  EXPECT_THAT(Read({"--advance",
                    "9",
                    "--frequency",
                    "12",
                    "--seed",
                    "gallop",
                    "--rng",
                    "-1",
                    "--knots",
                    "many"}),
              HasStatus(absl::StatusCode::kInvalidArgument,
                        AllOf(HasSubstr("--advance: '9' has no unit"),
                              HasSubstr("--frequency: '12' has no unit"),
                              HasSubstr("--seed: 'gallop' is not a pattern"),
                              HasSubstr("--rng: '-1'"),
                              HasSubstr("--knots: 'many'"))));
}

}  // namespace
}  // namespace gaitshelf::client
