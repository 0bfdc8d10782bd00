#include "service/api/command_line.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using test::HasStatus;
using testing::AllOf;
using testing::ElementsAre;
using testing::HasSubstr;

TEST(CommandLineTest, ReadsEveryFlag) {
  const CommandLine line = ParseCommandLine({"--library",
                                             "/l.db",
                                             "--listen=unix:/s",
                                             "--listen",
                                             "127.0.0.1:0",
                                             "--workers",
                                             "3",
                                             "--worker-program=/w",
                                             "--queue-limit",
                                             "7",
                                             "--backups=/copies"},
                                            "/run/me")
                               .value();
  EXPECT_EQ(line.library, "/l.db");
  EXPECT_THAT(line.listen, ElementsAre("unix:/s", "127.0.0.1:0"));
  EXPECT_EQ(line.worker_count, 3);
  EXPECT_EQ(line.worker_program, "/w");
  EXPECT_EQ(line.queue_limit, 7);
  EXPECT_EQ(line.backup_folder, "/copies");
}

TEST(CommandLineTest, ReadsWhereJobsAreSolved) {
  EXPECT_FALSE(ParseCommandLine({"--library", "l", "--dispatch", "local"}, "/run")->uses_slurm);
  const CommandLine line = ParseCommandLine({"--library=postgresql:///gaits",
                                             "--dispatch=slurm",
                                             "--slurm-partition=short",
                                             "--slurm-minutes=30",
                                             "--slurm-log=/logs"},
                                            "/run")
                               .value();
  EXPECT_TRUE(line.uses_slurm);
  EXPECT_EQ(line.slurm_partition, "short");
  EXPECT_EQ(line.slurm_limit_min, 30);
  EXPECT_EQ(line.slurm_log_folder, "/logs");
  EXPECT_THAT(ParseCommandLine({"--library=l", "--dispatch=cloud", "--slurm-minutes=1"}, "/run"),
              HasStatus(absl::StatusCode::kInvalidArgument,
                        AllOf(HasSubstr("'cloud'"), HasSubstr("--slurm-minutes"))));
  EXPECT_THAT(ParseCommandLine({"--library=l.db", "--dispatch=slurm"}, "/run"),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("'l.db'")));
}

TEST(CommandLineTest, ListensOnASocketOfItsOwnByDefault) {
  EXPECT_THAT(ParseCommandLine({"--library", "l"}, "/run/me")->listen,
              ElementsAre("unix:/run/me/gaitshelf.sock"));
}

TEST(CommandLineTest, NamesEveryFaultAtOnce) {
  EXPECT_THAT(
      ParseCommandLine(
          {"--listen", "0.0.0.0:1", "--workers", "many", "--queue-limit=0", "--wat", "--listen"},
          "/tmp")
          .status(),
      HasStatus(absl::StatusCode::kInvalidArgument,
                AllOf(HasSubstr("--listen is '0.0.0.0:1'"),
                      HasSubstr("--workers is 'many'"),
                      HasSubstr("--queue-limit is '0'"),
                      HasSubstr("'--wat' is not a flag"),
                      HasSubstr("--listen has no value"),
                      HasSubstr("--library is missing"))));
}

TEST(CommandLineTest, HelpNeedsNothingElse) {
  EXPECT_TRUE(ParseCommandLine({"--help"}, "/tmp")->wants_help);
  EXPECT_THAT(HelpText(), HasSubstr("--library PATH"));
}

}  // namespace
}  // namespace gaitshelf::service
