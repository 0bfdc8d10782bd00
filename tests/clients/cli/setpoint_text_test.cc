#include "clients/cli/setpoint_text.h"

#include <algorithm>
#include <cstdlib>
#include <sstream>

#include "absl/strings/str_split.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::client {
namespace {

using test::HasStatus;
using test::IsOk;
using testing::Each;
using testing::HasSubstr;
using testing::Le;
using testing::ResultOf;
using testing::SizeIs;

// A block of `count` samples of `legs` legs; each value is its own index over 1000.
v1::SetpointBlock MakeBlock(int first, int count, int legs) {
  v1::SetpointBlock block;
  block.set_first_sample(first);
  block.set_first_sample_time_s(0.001 * first);
  block.set_sample_period_s(0.001);
  block.set_sample_count(count);
  for (int leg = 0; leg < legs; ++leg) {
    block.add_leg_names("leg-" + std::to_string(leg));
    block.add_foot_names("leg-" + std::to_string(leg));
  }
  for (int i = 0; i < count; ++i) {
    block.add_phase_ratio(i == 0 ? -1.0 : 0.1 * i);
  }
  for (int i = 0; i < count * legs * 2; ++i) {
    block.add_leg_position_m(i * 1e-3);
    block.add_leg_rate_m_per_s(i * 1e-2);
    block.add_voltage_v(i + 0.1);
  }
  for (int i = 0; i < count * legs; ++i) {
    block.add_contact(i % 2);
  }
  for (int i = 0; i < count * 3; ++i) {
    block.add_body_position_m(i);
    block.add_body_attitude_rad(-i);
  }
  return block;
}

TEST(BlockCheckerTest, AcceptsBlocksThatFollowEachOther) {
  BlockChecker checker;
  EXPECT_THAT(checker.Check(MakeBlock(0, 3, 4)), IsOk());
  EXPECT_THAT(checker.Check(MakeBlock(3, 2, 4)), IsOk());
  EXPECT_EQ(checker.sample_count(), 5);
  EXPECT_THAT(checker.leg_names(), SizeIs(4));
}

TEST(BlockCheckerTest, RefusesMissingSamplesAndShortArrays) {
  BlockChecker checker;
  ASSERT_THAT(checker.Check(MakeBlock(0, 3, 4)), IsOk());
  EXPECT_THAT(checker.Check(MakeBlock(4, 3, 4)),
              HasStatus(absl::StatusCode::kDataLoss, HasSubstr("from sample 3 to sample 4")));
  v1::SetpointBlock block = MakeBlock(3, 3, 4);
  block.mutable_voltage_v()->RemoveLast();
  EXPECT_THAT(checker.Check(block), HasStatus(absl::StatusCode::kDataLoss, HasSubstr("length")));
}

TEST(SetpointTextTest, WritesOneCsvColumnForEachValueWithItsUnit) {
  const v1::SetpointBlock block = MakeBlock(7, 2, 2);
  const std::vector<std::string> heading = absl::StrSplit(CsvHeading({"a", "b"}, {"a", "b"}), ',');
  const std::vector<std::string> lines = absl::StrSplit(CsvRows(block), '\n');
  ASSERT_THAT(lines, SizeIs(3));  // the last one is empty
  const std::vector<std::string> cells = absl::StrSplit(lines[1], ',');
  ASSERT_EQ(cells.size(), heading.size());
  const auto value = [&](const std::string& column) {
    const auto found = std::find(heading.begin(), heading.end(), column);
    return std::strtod(cells[static_cast<std::size_t>(found - heading.begin())].c_str(), nullptr);
  };
  // Sample 1 holds the values 4 to 7 of an array of 2 x 4.
  EXPECT_EQ(value("time_s"), 0.008);
  EXPECT_EQ(value("phase_ratio"), 0.1);
  EXPECT_EQ(value("a.lift_m"), 4 * 1e-3);
  EXPECT_EQ(value("b.swing_m"), 7 * 1e-3);
  EXPECT_EQ(value("a.swing_rate_m_per_s"), 5 * 1e-2);
  EXPECT_EQ(value("b.lift_voltage_v"), 6 + 0.1);
  EXPECT_EQ(value("b.contact"), 1);
  EXPECT_EQ(value("body.z_m"), 5);
  EXPECT_EQ(value("body.roll_rad"), -3);
}

TEST(SetpointTextTest, KeepsTheTableWithinATerminal) {
  for (const int legs : {0, 1, 4, 6}) {
    v1::SetpointBlock block = MakeBlock(0, 2, legs);
    for (double& position_m : *block.mutable_leg_position_m()) {
      position_m = -0.0999;
    }
    std::vector<std::string> names(block.leg_names().begin(), block.leg_names().end());
    const std::string text = CompactHeading(names) + CompactRow(block, 0) + CompactRow(block, 1);
    const std::vector<std::string> lines = absl::StrSplit(text, '\n');
    EXPECT_THAT(lines,
                Each(ResultOf([](const std::string& line) { return line.size(); }, Le(80U))));
    EXPECT_THAT(CompactRow(block, 0), HasSubstr("ramp"));
  }
}

}  // namespace
}  // namespace gaitshelf::client
