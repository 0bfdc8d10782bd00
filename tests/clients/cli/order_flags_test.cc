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

TEST(OrderFlagsTest, ReadsFurtherSurfaces) {
  const auto order =
      Read({"--frequency", "12Hz", "--advance", "9mm", "--also-on", "liner-felt,grit-tape"});
  ASSERT_THAT(order, IsOk());
  EXPECT_EQ(order->surface(), "duct-steel");
  EXPECT_THAT(order->also_on(), testing::ElementsAre("liner-felt", "grit-tape"));
}

TEST(OrderFlagsTest, ReadsATransition) {
  const auto order = Read({"--from", "g-1@0.25", "--to", "g-2", "--within", "3"});
  ASSERT_THAT(order, IsOk());
  const v1::Transition& transition = order->task().transition();
  EXPECT_EQ(transition.from_gait(), "g-1");
  EXPECT_EQ(transition.from_phase_ratio(), 0.25);
  EXPECT_EQ(transition.to_gait(), "g-2");
  EXPECT_EQ(transition.to_phase_ratio(), 0.0);
  EXPECT_EQ(transition.cycle_count(), 3);
  EXPECT_EQ(Read({"--from", "g-1", "--to", "g-2@1"})->task().transition().cycle_count(), 2);
  const auto code = absl::StatusCode::kInvalidArgument;
  EXPECT_THAT(Read({"--from", "g-1@0.5"}), HasStatus(code, HasSubstr("--to: is missing")));
  EXPECT_THAT(Read({"--from", "g-1@1.5", "--to", "g-2@x", "--advance", "9mm"}),
              HasStatus(code,
                        AllOf(HasSubstr("--from: '1.5' is not a phase from 0 to 1"),
                              HasSubstr("--to: 'x' is not a phase"),
                              HasSubstr("--advance: does not go with --from"))));
}

TEST(OrderFlagsTest, ReadsAHop) {
  const auto order = Read({"--hop", "9mm"});
  ASSERT_THAT(order, IsOk());
  EXPECT_EQ(order->task().hop().rise_m(), 0.009);
  EXPECT_EQ(order->stride_frequency_hz(), 0.0);
}

TEST(OrderFlagsTest, RefusesTasksThatDoNotGoTogether) {
  const auto code = absl::StatusCode::kInvalidArgument;
  EXPECT_THAT(Read({}),
              HasStatus(code, HasSubstr("say --advance LENGTH, --turn ANGLE, --hop LENGTH")));
  EXPECT_THAT(Read({"--advance", "9mm"}), HasStatus(code, HasSubstr("--frequency: is missing")));
  EXPECT_THAT(Read({"--turn", "5deg"}), HasStatus(code, HasSubstr("--frequency: is missing")));
  EXPECT_THAT(Read({"--hop", "9mm", "--turn", "5deg", "--frequency", "3Hz"}),
              HasStatus(code,
                        AllOf(HasSubstr("--turn: does not go with --hop"),
                              HasSubstr("--frequency: does not go with --hop"))));
  EXPECT_THAT(Read({"--stand", "0mm", "--advance", "5mm"}),
              HasStatus(code, HasSubstr("--advance: does not go with --stand")));
  EXPECT_THAT(Read({"--advance", "9mm", "--roll", "2deg", "--frequency", "3Hz"}),
              HasStatus(code, HasSubstr("--roll: does not go with --advance")));
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

TEST(OrderFlagsTest, ReadsSidestepTurnAndObjective) {
  const auto order = Read(
      {"--frequency", "12Hz", "--sidestep", "-1mm", "--turn", "0.1rad", "--objective", "energy"});
  ASSERT_THAT(order, IsOk());
  EXPECT_EQ(order->task().advance().advance_m(), 0.0);
  EXPECT_EQ(order->task().advance().sidestep_m(), -0.001);
  EXPECT_EQ(order->task().advance().turn_rad(), 0.1);
  EXPECT_EQ(order->objective(), v1::OBJECTIVE_LEAST_ENERGY);
  EXPECT_THAT(Read({"--frequency", "12Hz", "--advance", "9mm", "--objective", "speed"}),
              HasStatus(absl::StatusCode::kInvalidArgument,
                        HasSubstr("--objective: 'speed' is no objective; use effort, energy")));
}

TEST(OrderFlagsTest, ReadsTheFarthestAdvanceAHopOverADistanceAndAStand) {
  const auto farthest = Read({"--frequency", "12Hz", "--advance", "max"});
  ASSERT_THAT(farthest, IsOk());
  EXPECT_TRUE(farthest->task().advance().is_maximal());
  const auto hop = Read({"--hop", "9mm", "--advance", "4mm"});
  ASSERT_THAT(hop, IsOk());
  EXPECT_EQ(hop->task().hop().rise_m(), 0.009);
  EXPECT_EQ(hop->task().hop().advance_m(), 0.004);
  const auto stand = Read({"--stand", "-0.5mm", "--pitch", "0.02rad"});
  ASSERT_THAT(stand, IsOk());
  EXPECT_EQ(stand->task().stand().height_m(), -0.0005);
  EXPECT_EQ(stand->task().stand().pitch_rad(), 0.02);
}

}  // namespace
}  // namespace gaitshelf::client
