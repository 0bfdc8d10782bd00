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

TEST_F(TrialFileTest, RefusesWhatIsNoText) {
  using std::string_literals::operator""s;
  EXPECT_THAT(Read("time [s],body x [mm]\n0,1\n\x00\x01\x02,5\n2,\xFF\xFE\n"s),
              test::HasStatus(absl::StatusCode::kInvalidArgument,
                              AllOf(HasSubstr("row 2 (line 3): is no text"),
                                    HasSubstr("row 3 (line 4): is no text"))));
  // As some programs save it: UTF-16, or a micrometre in one byte.
  EXPECT_THAT(Read("\xFF\xFEt\0i\0m\0"s),
              test::HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("line 1: is no text")));
  EXPECT_THAT(Read("time [s],body x [\xB5m]\n0,1\n"),
              test::HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("line 1: is no text")));
  EXPECT_THAT(Read("time [s],body x [\xC2\xB5m]\n0,1\n"), test::IsOk());
}

TEST_F(TrialFileTest, RefusesOtherSeparators) {
  EXPECT_THAT(Read("time [s];body x [mm]\n0;1,5\n"),
              test::HasStatus(absl::StatusCode::kInvalidArgument,
                              AllOf(HasSubstr("line 1: the heading has no comma"),
                                    HasSubstr("row 1 (line 2): 2 cells must be 1"))));
  EXPECT_THAT(Read("time [s]\tbody x [mm]\n0\t1\n"),
              test::HasStatus(absl::StatusCode::kInvalidArgument,
                              HasSubstr("line 1: the heading has no comma")));
}

TEST_F(TrialFileTest, RefusesAFileThatWasCutWithinARow) {
  EXPECT_THAT(Read("time [s],body x [mm],body y [mm]\n0,1,2\n1,3"),
              test::HasStatus(absl::StatusCode::kInvalidArgument,
                              HasSubstr("row 2 (line 3): 2 cells must be 3")));
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
