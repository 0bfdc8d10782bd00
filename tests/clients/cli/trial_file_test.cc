#include "clients/cli/trial_file.h"

#include <cmath>
#include <cstdio>
#include <fstream>
#include <string>

#include <unistd.h>

#include "tests/support/status_matchers.h"

namespace gaitshelf::client {
namespace {

using testing::AllOf;
using testing::HasSubstr;

class TrialFileTest : public testing::Test {
 protected:
  void TearDown() override { std::remove(path_.c_str()); }

  absl::StatusOr<TrialFile> Read(const std::string& text) {
    std::ofstream(path_) << text;
    return ReadTrialFile(path_);
  }

  std::string path_ = "/tmp/Trial_file." + std::to_string(getpid()) + ".csv";
};

TEST_F(TrialFileTest, ReadsRemarksHeadingAndRows) {
  const auto file = Read(
      "\xEF\xBB\xBF# clock: tracking\r\n# taken on a rainy day\r\n"
      "time [ms],\"body x [mm]\", leg-1 contact\r\n0, 1.5e-1,1\r\n\r\n4,,+0\r\n8,NaN,1\r\n");
  ASSERT_THAT(file, test::IsOk());
  EXPECT_EQ(file->group.clock(), v1::TRIAL_CLOCK_TRACKING);
  EXPECT_EQ(file->group.name(), "trial-file-" + std::to_string(getpid()));
  ASSERT_EQ(file->group.columns_size(), 3);
  EXPECT_EQ(file->group.columns(1).label(), "body x [mm]");
  EXPECT_EQ(file->group.columns(2).label(), "leg-1 contact");
  ASSERT_EQ(file->values.size(), 9U);
  EXPECT_EQ(file->values[1], 0.15);
  EXPECT_TRUE(std::isnan(file->values[4]));
  EXPECT_EQ(file->values[5], 0.0);
  EXPECT_TRUE(std::isnan(file->values[7]));
}

TEST_F(TrialFileTest, ReadsNameAndRate) {
  const auto file = Read("# name: board\n# rate: 2kHz\nleg-1 swing [mm]\n0.5\n");
  ASSERT_THAT(file, test::IsOk());
  EXPECT_EQ(file->group.name(), "board");
  EXPECT_EQ(file->group.sample_rate_hz(), 2000.0);
  EXPECT_EQ(file->group.clock(), v1::TRIAL_CLOCK_ON_BOARD);
}

TEST_F(TrialFileTest, NamesRowAndColumnOfEveryFault) {
  EXPECT_THAT(
      Read("# clock: wall\n# rate: 5mm\ntime [s],body x [mm]\n0,1\n1,one\n2\n3,4,5\n"),
      test::HasStatus(absl::StatusCode::kInvalidArgument,
                      AllOf(HasSubstr("line 1: clock: 'wall'"),
                            HasSubstr("line 2: rate: "),
                            HasSubstr("row 2 (line 5) column 'body x [mm]': 'one' is no number"),
                            HasSubstr("row 3 (line 6): 1 cells must be 2"),
                            HasSubstr("row 4 (line 7): 3 cells must be 2"))));
}

TEST_F(TrialFileTest, CountsWhatItDoesNotTell) {
  std::string text = "time [s]\n";
  for (int i = 0; i < 30; ++i) {
    text += "x\n";
  }
  EXPECT_THAT(Read(text),
              test::HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("10 more faults")));
}

TEST_F(TrialFileTest, RefusesEmptyAndMissingFiles) {
  EXPECT_THAT(Read("time [s]\n"),
              test::HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("no rows")));
  EXPECT_THAT(ReadTrialFile("/tmp/no such file"),
              test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("cannot be read")));
}

}  // namespace
}  // namespace gaitshelf::client
