// Covers clients/cli/export_verb.cc
#include <fstream>
#include <iterator>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "clients/cli/exit_code.h"
#include "tests/clients/cli/scripted_server.h"

namespace gaitshelf::client {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::StartsWith;

class ExportVerbTest : public ScriptedServer {};

TEST_F(ExportVerbTest, WritesAHeaderToAFile) {
  EXPECT_EQ(Run({"export", "g-known", "-o", path_ + ".h", "--samples", "16", "--name", "trot"}),
            kExitOk);
  EXPECT_EQ(playback_.last_sample_request.Get().sample_count(), 16);
  EXPECT_THAT(out_, IsEmpty());
  std::ifstream file(path_ + ".h");
  const std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  EXPECT_THAT(text, HasSubstr("static const int16_t trot_position[16][2]"));
}

TEST_F(ExportVerbTest, PrintsCsvOrJson) {
  EXPECT_EQ(Run({"export", "g-known", "--form", "csv"}), kExitOk);
  EXPECT_THAT(out_, AllOf(StartsWith("# g-known"), HasSubstr("\n127,")));
  EXPECT_EQ(Run({"export", "g-known", "--json"}), kExitOk);
  EXPECT_THAT(out_, HasSubstr("\"sample_count\": 128"));
}

TEST_F(ExportVerbTest, ReportsEveryFaultOfItsFlags) {
  EXPECT_EQ(Run({"export",
                 "g-known",
                 "--samples",
                 "8",
                 "--sample-rate",
                 "1kHz",
                 "--bits",
                 "7",
                 "--name",
                 "1st",
                 "--form",
                 "tsv"}),
            kExitUsage);
  EXPECT_THAT(err_,
              AllOf(HasSubstr("--samples does not go with --sample-rate"),
                    HasSubstr("--bits: '7'"),
                    HasSubstr("--name: '1st'"),
                    HasSubstr("--form: 'tsv' is no choice; use header, csv")));
  EXPECT_EQ(Run({"export", "--bits", "7"}), kExitUsage);
  EXPECT_THAT(err_, AllOf(HasSubstr("GAIT is missing"), HasSubstr("--bits: '7'")));
  EXPECT_EQ(Run({"export", "g-404"}), kExitNotFound);
  EXPECT_EQ(Run({"export", "g-known", "--out", "/nonexistent/x.h"}), kExitError);
  EXPECT_THAT(err_, HasSubstr("/nonexistent/x.h: cannot be written"));
}

}  // namespace
}  // namespace gaitshelf::client
