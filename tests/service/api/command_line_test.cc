#include "service/api/command_line.h"

#include <fstream>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"
#include "tests/support/temporary_folder.h"

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
                                             "--jobs-per-member=4",
                                             "--library-wait-s=30",
                                             "--gait-memory-mb=300",
                                             "--backups=/copies"},
                                            "/run/me")
                               .value();
  EXPECT_EQ(line.library, "/l.db");
  EXPECT_THAT(line.listen, ElementsAre("unix:/s", "127.0.0.1:0"));
  EXPECT_EQ(line.worker_count, 3);
  EXPECT_EQ(line.worker_program, "/w");
  EXPECT_EQ(line.queue_limit, 7);
  EXPECT_EQ(line.jobs_per_member, 4);
  EXPECT_EQ(line.library_wait_s, 30);
  EXPECT_EQ(line.gait_memory_mb, 300);
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

TEST(CommandLineTest, ReadsTheFormatOfTheLog) {
  EXPECT_EQ(ParseCommandLine({"--library", "l"}, "/run")->log_format, LogFormat::kLogfmt);
  EXPECT_EQ(ParseCommandLine({"--library=l", "--log-format", "json"}, "/run")->log_format,
            LogFormat::kJson);
  const test::TemporaryFolder folder;
  const std::string file = folder.File("gaitshelfd.conf");
  std::ofstream(file) << "library = l\nlog-format = json\n";
  EXPECT_EQ(ParseCommandLine({"--config", file}, "/run")->log_format, LogFormat::kJson);
  EXPECT_EQ(ParseCommandLine({"--config", file, "--log-format=logfmt"}, "/run")->log_format,
            LogFormat::kLogfmt);
  std::ofstream(file) << "library = l\nlog-format = xml\n";
  EXPECT_THAT(ParseCommandLine({"--config", file, "--check"}, "/run"),
              HasStatus(absl::StatusCode::kInvalidArgument,
                        HasSubstr("gaitshelfd.conf:2: log-format is 'xml'; give logfmt or json")));
}

TEST(CommandLineTest, ListensToOthersWithTlsOnly) {
  const auto parse = [](const char* tls) {
    return ParseCommandLine({"--listen=0.0.0.0:5", tls, "--library=l"}, "/run").status();
  };
  EXPECT_THAT(parse("--tls=/lab/server"), test::IsOk());
  EXPECT_THAT(parse("--workers=1"),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("without --tls")));
}

TEST(CommandLineTest, ListensOnASocketOfItsOwnByDefault) {
  EXPECT_THAT(ParseCommandLine({"--library", "l"}, "/run/me")->listen,
              ElementsAre("unix:/run/me/gaitshelf.sock"));
}

TEST(CommandLineTest, ReadsAFileAfterTheCommandLine) {
  const test::TemporaryFolder folder;
  const std::string file = folder.File("gaitshelfd.conf");
  std::ofstream(file) << "# the bench's server\nlibrary = /srv/library.db\nlisten = unix:/a\n"
                         "listen = unix:/b  # both\nworkers=2\n\ncalls = 90\n";
  const CommandLine line =
      ParseCommandLine({"--config", file, "--workers=5", "--check"}, "/run").value();
  EXPECT_EQ(line.library, "/srv/library.db");
  EXPECT_THAT(line.listen, ElementsAre("unix:/a", "unix:/b"));
  EXPECT_EQ(line.worker_count, 5);
  EXPECT_EQ(line.call_limit, 90);
  EXPECT_TRUE(line.wants_check);
  EXPECT_THAT(ParseCommandLine({"--config=" + file, "--listen=unix:/c"}, "/run")->listen,
              ElementsAre("unix:/c"));
}

TEST(CommandLineTest, NamesFaultsOfAFileWithTheirLines) {
  const test::TemporaryFolder folder;
  const std::string file = folder.File("gaitshelfd.conf");
  std::ofstream(file) << "workers = many\nhello\nlibary = /l\nmetrics = 0.0.0.0:9\ntls =\n";
  EXPECT_THAT(ParseCommandLine({"--config", file}, "/run").status(),
              HasStatus(absl::StatusCode::kInvalidArgument,
                        AllOf(HasSubstr("gaitshelfd.conf:1: workers is 'many'"),
                              HasSubstr(":2: 'hello' is no line 'flag = value'"),
                              HasSubstr(":3: 'libary' is not a flag"),
                              HasSubstr("--metrics is '0.0.0.0:9'"),
                              HasSubstr(":5: tls has no value"),
                              HasSubstr("--library is missing"))));
  EXPECT_THAT(ParseCommandLine({"--library=l", "--config=/none"}, "/run").status(),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("cannot read /none")));
}

TEST(CommandLineTest, NamesEveryFaultAtOnce) {
  EXPECT_THAT(ParseCommandLine({"--listen",
                                "0.0.0.0:1",
                                "--workers",
                                "many",
                                "--queue-limit=0",
                                "--jobs-per-member=0",
                                "--wat",
                                "--listen"},
                               "/tmp")
                  .status(),
              HasStatus(absl::StatusCode::kInvalidArgument,
                        AllOf(HasSubstr("--listen is '0.0.0.0:1'"),
                              HasSubstr("--workers is 'many'"),
                              HasSubstr("--queue-limit is '0'"),
                              HasSubstr("--jobs-per-member is '0'"),
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
