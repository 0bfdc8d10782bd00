#include "clients/cli/gait_table.h"

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/temporary_folder.h"

namespace gaitshelf::client {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

// Two legs, feet that step in turn, sines of all sizes; figures invented.
struct Sample {
  v1::Gait gait;
  v1::SetpointBlock block;
};

Sample MakeSample(int sample_count) {
  Sample sample;
  sample.gait.set_name("g-1");
  sample.gait.set_robot("weevil");
  sample.gait.set_surface("duct-steel");
  sample.gait.set_stride_frequency_hz(12.0);
  sample.gait.mutable_task()->mutable_advance()->set_advance_m(0.009);
  sample.gait.set_is_periodic(true);
  for (const char* leg : {"left", "right"}) {
    for (auto* names : {sample.gait.mutable_leg_names(),
                        sample.gait.mutable_foot_names(),
                        sample.block.mutable_leg_names(),
                        sample.block.mutable_foot_names()}) {
      *names->Add() = leg;
    }
  }
  sample.block.set_sample_count(sample_count);
  sample.block.set_sample_period_s(1.0 / 12.0 / sample_count);
  for (int i = 0; i < sample_count; ++i) {
    for (int channel = 0; channel < 4; ++channel) {
      const double angle = 6.283185307179586 * i / sample_count + channel;
      sample.block.add_leg_position_m(1.3e-3 * std::sin(angle));
      sample.block.add_leg_rate_m_per_s(0.098 * std::cos(angle));
      sample.block.add_voltage_v(100.0 + 77.7 * std::sin(angle));
    }
    sample.block.add_contact(2 * i < sample_count ? 1 : 0);
    sample.block.add_contact(2 * i < sample_count ? 0 : 1);
  }
  return sample;
}

TEST(FixedPointTest, UsesTheWholeRangeAndStatesItsWorstError) {
  google::protobuf::RepeatedField<double> values;
  for (const double value : {-2.0, 0.0101, 1.0, 2.0}) {
    values.Add(value);
  }
  const FixedPoint fixed = ToFixedPoint(values, 8);
  EXPECT_THAT(fixed.counts, testing::ElementsAre(-127, 1, 64, 127));
  EXPECT_DOUBLE_EQ(fixed.unit, 2.0 / 127.0);
  EXPECT_NEAR(fixed.worst_error, 64.0 * 2.0 / 127.0 - 1.0, 1e-15);
  EXPECT_LE(ToFixedPoint(values, 32).worst_error, 0.5 * 2.0 / 2147483647.0 * (1.0 + 1e-6));
}

TEST(FixedPointTest, KeepsNothingButZeros) {
  google::protobuf::RepeatedField<double> values;
  values.Add(0.0);
  EXPECT_EQ(ToFixedPoint(values, 16).unit, 1.0);
  EXPECT_EQ(ToFixedPoint(values, 16).worst_error, 0.0);
}

TEST(TableNameTest, TakesWhatCTakes) {
  for (const char* good : {"gait", "trot_12", "G"}) {
    EXPECT_TRUE(IsTableName(good)) << good;
  }
  for (const char* bad : {"", "1a", "_a", "a-b", "a b", "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"}) {
    EXPECT_FALSE(IsTableName(bad)) << bad;
  }
}

// Compiles the header by itself under strict warnings with a program that prints its values, and
// returns what that prints: unit and worst error of each array, then all values, then the contacts.
std::vector<double> CompileAndRead(const std::string& header) {
  const test::TemporaryFolder folder;
  std::ofstream(folder.File("table.h")) << header;
  std::ofstream(folder.File("print.c")) << R"(
#include "table.h"
#include <stdio.h>
#define PRINT(name, unit, error) \
  printf("%.17g %.17g\n", (double)(unit), (double)(error)); \
  for (s = 0; s < T_SAMPLE_COUNT; ++s) \
    for (c = 0; c < T_COORDINATE_COUNT; ++c) printf("%.17g\n", (unit) * (double)name[s][c])
int main(void) {
  int s, c;
  PRINT(t_position, T_POSITION_UNIT_M, T_POSITION_WORST_ERROR_M);
  PRINT(t_rate, T_RATE_UNIT_M_PER_S, T_RATE_WORST_ERROR_M_PER_S);
  PRINT(t_voltage, T_VOLTAGE_UNIT_V, T_VOLTAGE_WORST_ERROR_V);
  for (s = 0; s < T_SAMPLE_COUNT; ++s) printf("%u\n", (unsigned)t_contact[s]);
  printf("%d %d %.17g\n", T_FOOT_COUNT, T_IS_PERIODIC, T_SAMPLE_PERIOD_S);
  return 0;
}
)";
  const std::string program = folder.File("print");
  const std::string line = "cc -std=c99 -pedantic -Wall -Wextra -Werror -o " + program + " " +
                           folder.File("print.c") + " && " + program + " > " + folder.File("out");
  EXPECT_EQ(std::system(line.c_str()), 0) << header.substr(0, 2000);  // NOLINT: paths are ours
  std::ifstream out(folder.File("out"));
  std::vector<double> values;
  for (double value = 0.0; out >> value;) {
    values.push_back(value);
  }
  return values;
}

class TableHeaderTest : public testing::TestWithParam<int> {};

TEST_P(TableHeaderTest, ReadsBackInCWithinItsStatedError) {
  const Sample sample = MakeSample(50);
  const std::vector<double> read =
      CompileAndRead(TableHeader(sample.gait, sample.block, "t", GetParam()));
  ASSERT_EQ(read.size(), 3U * (2U + 200U) + 50U + 3U);
  std::size_t at = 0;
  for (const auto* values : {&sample.block.leg_position_m(),
                             &sample.block.leg_rate_m_per_s(),
                             &sample.block.voltage_v()}) {
    const double unit = read[at++];
    const double worst_error = read[at++];
    EXPECT_LE(worst_error, 0.5001 * unit);
    double seen = 0.0;
    for (const double value : *values) {
      seen = std::max(seen, std::abs(read[at++] - value));
    }
    EXPECT_LE(seen, worst_error);
    EXPECT_GE(seen, 0.99 * worst_error);  // the statement is no wider than it need be
  }
  for (int i = 0; i < 50; ++i) {
    EXPECT_EQ(read[at++], 2 * i < 50 ? 1.0 : 2.0);
  }
  EXPECT_EQ(read[at], 2.0);
  EXPECT_EQ(read[at + 1], 1.0);
  EXPECT_EQ(read[at + 2], sample.block.sample_period_s());
}

INSTANTIATE_TEST_SUITE_P(Bits, TableHeaderTest, testing::Values(8, 12, 16, 24, 32));

TEST(TableTextTest, SaysWhatItHoldsAndWarns) {
  const Sample sample = MakeSample(8);
  const std::string header = TableHeader(sample.gait, sample.block, "trot", 12);
  EXPECT_THAT(header,
              AllOf(HasSubstr("weevil on duct-steel, advance 9"),
                    HasSubstr("at 12"),
                    HasSubstr("CAUTION"),
                    HasSubstr("static const int16_t trot_position[8][4]"),
                    HasSubstr("static const uint8_t trot_contact[8]"),
                    HasSubstr("After the last comes the first.")));
  v1::Gait hop = sample.gait;
  hop.set_is_periodic(false);
  EXPECT_THAT(TableHeader(hop, sample.block, "hop", 16),
              AllOf(HasSubstr("One hop"), HasSubstr("HOP_IS_PERIODIC 0"), Not(HasSubstr("12 Hz"))));
}

TEST(TableTextTest, CsvStatesUnitsAndHasARowForEachSample) {
  const Sample sample = MakeSample(8);
  std::istringstream text(TableCsv(sample.gait, sample.block, 16));
  std::string line;
  std::string comments;
  while (std::getline(text, line) && line[0] == '#') {
    comments += line + "\n";
  }
  EXPECT_THAT(comments, AllOf(HasSubstr("position_unit_m "), HasSubstr("worst error")));
  EXPECT_THAT(line, testing::StartsWith("sample,left.lift_position,left.swing_position,right."));
  EXPECT_THAT(line, testing::EndsWith(",right.swing_voltage,left.contact,right.contact"));
  int rows = 0;
  while (std::getline(text, line)) {
    EXPECT_EQ(std::count(line.begin(), line.end(), ','), 14) << line;
    ++rows;
  }
  EXPECT_EQ(rows, 8);
}

}  // namespace
}  // namespace gaitshelf::client
