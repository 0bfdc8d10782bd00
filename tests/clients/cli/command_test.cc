// Runs command lines against a small gRPC server with scripted answers on a Unix socket. What the
// real server answers is tested in tests/end_to_end.
//
// Covers clients/cli/description_verbs.cc
// Covers clients/cli/follow_job.cc
// Covers clients/cli/gait_verbs.cc
// Covers clients/cli/modes_verb.cc
// Covers clients/cli/order_verbs.cc
// Covers clients/cli/session.cc
// Covers clients/cli/stream_verbs.cc
#include "clients/cli/command.h"

#include <algorithm>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "clients/cli/exit_code.h"
#include "tests/clients/cli/scripted_server.h"

namespace gaitshelf::client {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;
using testing::StartsWith;

class CommandTest : public ScriptedServer {};

TEST_F(CommandTest, AnswersFromTheLibraryWithoutProgress) {
  EXPECT_EQ(Run(Order("known")), kExitOk);
  EXPECT_THAT(out_, StartsWith("in the library: g-known"));
  EXPECT_THAT(err_, IsEmpty());
  EXPECT_THAT(jobs_.last_order.Get().requester(), Not(IsEmpty()));
}

TEST_F(CommandTest, SaysOfAStandHowFarItDrifts) {
  EXPECT_EQ(Run({"order", "--robot", "weevil", "--surface", "known", "--stand", "0mm"}), kExitOk);
  EXPECT_THAT(out_,
              AllOf(HasSubstr(": drifts 0.10 mm per cycle; peak"), Not(HasSubstr("planned"))));
  EXPECT_EQ(Run(Order("known")), kExitOk);
  EXPECT_THAT(out_, HasSubstr(": planned 9.00 mm, replayed 0.10 mm; peak"));
}

TEST_F(CommandTest, FollowsAJobToItsGaitAlsoWhenTheServerGoesAway) {
  jobs_.break_at = 1;
  EXPECT_EQ(Run(Order("new")), kExitOk);
  EXPECT_EQ(jobs_.watch_count, 2);
  EXPECT_THAT(out_, StartsWith("g-new"));
  EXPECT_THAT(err_, AllOf(HasSubstr("ordered job j-1"), HasSubstr("the job is safe")));
}

TEST_F(CommandTest, ReturnsAtOnceWhenDetached) {
  std::vector<std::string> words = Order("new");
  words.push_back("--detach");
  EXPECT_EQ(Run(words), kExitOk);
  EXPECT_EQ(jobs_.watch_count, 0);
  EXPECT_THAT(out_, HasSubstr("gaitshelf watch j-1"));
}

TEST_F(CommandTest, SaysWhyAJobFailedAndWhatIsKept) {
  EXPECT_EQ(Run({"watch", "j-7"}), kExitFailedJob);
  EXPECT_THAT(err_, AllOf(HasSubstr("beyond the reach"), HasSubstr("gaitshelf show g-partial")));
  EXPECT_EQ(Run({"watch", "j-7", "--json", "--quiet"}), kExitFailedJob);
  EXPECT_THAT(out_, HasSubstr("\"failure_reason\": \"25 mm is beyond the reach\""));
  EXPECT_THAT(err_, IsEmpty());
}

TEST_F(CommandTest, EndsWithFourWhenSomethingIsNotFound) {
  EXPECT_EQ(Run({"watch", "j-404"}), kExitNotFound);
  EXPECT_EQ(Run({"show", "g-404", "--json"}), kExitNotFound);
  EXPECT_THAT(err_, HasSubstr("\"code\": \"NOT_FOUND\""));
  EXPECT_EQ(Run({"show", "g-known"}), kExitOk);
  EXPECT_THAT(
      out_, AllOf(StartsWith("g-known\n"), HasSubstr("trials, newest first\n"), HasSubstr("t-1")));
}

TEST_F(CommandTest, ListsEveryPage) {
  EXPECT_EQ(Run({"jobs"}), kExitOk);
  EXPECT_THAT(out_, AllOf(HasSubstr("j-2  running  42 %"), HasSubstr("j-1  running  42 %")));
}

TEST_F(CommandTest, CancelsAJobOrSaysThatItHasEnded) {
  EXPECT_EQ(Run({"cancel", "j-3"}), kExitOk);
  EXPECT_EQ(out_, "j-3 cancelled\n");
  EXPECT_EQ(Run({"cancel", "j-busy"}), kExitOk);
  EXPECT_EQ(out_, "j-busy is told to stop\n");
  EXPECT_EQ(Run({"cancel", "j-done"}), kExitError);
  EXPECT_THAT(err_, HasSubstr("j-done has ended"));
}

TEST_F(CommandTest, PutsAndChecksADescription) {
  const std::string file = WriteSurface("name: \"felt\"\nfriction_coefficient: 0.4\n");
  EXPECT_EQ(Run({"surface", "put", file}), kExitOk);
  EXPECT_EQ(out_, "felt version 2, digest 0123456789ab (new)\n");
  EXPECT_EQ(Run({"check", file}), kExitOk);
  EXPECT_THAT(out_, HasSubstr("no faults"));
}

TEST_F(CommandTest, PrintsWarningsOfACheckThatPasses) {
  EXPECT_EQ(Run({"check", WriteSurface("friction_coefficient: 2\n")}), kExitOk);
  EXPECT_THAT(out_,
              HasSubstr("\n  warning: friction_coefficient: is 2; is out of the ordinary; check "
                        "the unit\n"));
}

TEST_F(CommandTest, PrintsEveryFaultOfACheck) {
  EXPECT_EQ(Run({"check", WriteSurface("friction_coefficient: 4\n")}), kExitUsage);
  EXPECT_THAT(err_,
              AllOf(HasSubstr("2 faults"),
                    HasSubstr("  friction_coefficient: is 4; 0 to 3 is allowed; measure it\n"),
                    HasSubstr("  name: is 4;")));
}

TEST_F(CommandTest, ShowsTheModesOfARobot) {
  EXPECT_EQ(Run({"modes", "weevil", "--feet", "sticking", "--frequency", "12Hz"}), kExitOk);
  const v1::FindModesRequest request = model_.last_request.Get();
  EXPECT_EQ(request.name(), "weevil");
  EXPECT_EQ(request.foot_condition(), v1::FOOT_CONDITION_STICKING);
  EXPECT_EQ(request.stride_frequency_hz(), 12.0);
  EXPECT_THAT(out_,
              AllOf(StartsWith("weevil standing on sticking feet\n"),
                    HasSubstr("sway-roll   14.80 Hz   0.0013     95 %       5 %        0 %\n"),
                    HasSubstr("reach: 18.00 mm per cycle"),
                    HasSubstr("46 % of their force is left"),
                    HasSubstr("warning: 12 Hz sits on sway-roll\n")));
  EXPECT_EQ(Run({"modes", "weevil", "--json"}), kExitOk);
  EXPECT_THAT(out_, HasSubstr("\"frequency_hz\": 14.8"));
  EXPECT_EQ(Run({"modes", "weevil", "--feet", "wet", "--frequency", "12"}), kExitUsage);
  EXPECT_THAT(err_, AllOf(HasSubstr("--feet: 'wet'"), HasSubstr("--frequency: ")));
}

TEST_F(CommandTest, SaysWhatToDoWithAnEmptyLibrary) {
  EXPECT_EQ(Run({"robot", "list"}), kExitOk);
  EXPECT_THAT(out_, HasSubstr("gaitshelf robot put FILE"));
}

TEST_F(CommandTest, WritesAStreamToAFileWhole) {
  EXPECT_EQ(Run({"stream", "g-1", "--seconds", "2", "--preview", "--csv", path_ + ".csv"}),
            kExitOk);
  EXPECT_TRUE(playback_.last_request.Get().is_preview());
  EXPECT_EQ(playback_.last_request.Get().duration_s(), 2.0);
  std::ifstream file(path_ + ".csv");
  const std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  EXPECT_THAT(text, StartsWith("time_s,phase_ratio,"));
  EXPECT_EQ(std::count(text.begin(), text.end(), '\n'), 5);  // a heading and four samples
}

TEST_F(CommandTest, LeavesNoFileOfAStreamWithMissingSamples) {
  EXPECT_EQ(Run({"stream", "g-gap", "--seconds", "2", "--preview", "--csv", path_ + ".csv"}),
            kExitError);
  EXPECT_THAT(err_, HasSubstr("samples are missing"));
  EXPECT_FALSE(std::ifstream(path_ + ".csv").is_open());
}

TEST_F(CommandTest, StreamsToADriveOnlyAfterTheWordWasTyped) {
  const std::vector<std::string> words = {"stream", "g-1", "--seconds", "2", "--armed-by", "pilot"};
  for (const char* typed : {"", "\n", "yes\n", "ARM\n"}) {
    EXPECT_EQ(Run(words, typed), kExitError) << typed;
  }
  EXPECT_EQ(playback_.stream_count, 0);
  EXPECT_THAT(err_, AllOf(HasSubstr("CAUTION"), HasSubstr("shock"), HasSubstr("trained person")));
  EXPECT_EQ(Run(words, "arm\n"), kExitOk);
  EXPECT_EQ(playback_.last_request.Get().armed_by(), "pilot");
}

TEST_F(CommandTest, RefusesAStreamThatIsNeitherPreviewNorArmed) {
  EXPECT_EQ(Run({"stream", "g-1", "--seconds", "2"}), kExitUsage);
  EXPECT_THAT(err_, HasSubstr("--preview"));
  EXPECT_EQ(Run({"stream", "g-1", "--seconds", "2", "--preview", "--armed-by", "x"}), kExitUsage);
  EXPECT_EQ(Run({"stream", "g-1", "--seconds", "soon", "--preview", "--rate", "1"}), kExitUsage);
  EXPECT_THAT(err_, AllOf(HasSubstr("--seconds: 'soon'"), HasSubstr("--rate: '1' has no unit")));
  EXPECT_EQ(playback_.stream_count, 0);
}

TEST_F(CommandTest, HelpsWithWrongCommandLines) {
  EXPECT_EQ(Run({"ordr"}), kExitUsage);
  EXPECT_THAT(err_, HasSubstr("meant 'order'?"));
  EXPECT_EQ(Run({"robot", "fetch"}), kExitUsage);
  EXPECT_THAT(err_, HasSubstr("put FILE, show ROBOT or list"));
  EXPECT_EQ(Run({"order", "--robot", "weevil"}), kExitUsage);
  EXPECT_THAT(
      err_, AllOf(HasSubstr("--surface SURFACE is missing"), HasSubstr("usage: gaitshelf order")));
  EXPECT_EQ(Run({"order", "--help"}), kExitOk);
  EXPECT_THAT(out_, AllOf(HasSubstr("example"), HasSubstr("--frequency 12Hz")));
}

TEST_F(CommandTest, NamesTheAddressWhenNobodyListens) {
  server_->Shutdown();
  EXPECT_EQ(Run({"jobs"}), kExitError);
  EXPECT_THAT(err_, HasSubstr("no server answers at unix:" + path_));
}

}  // namespace
}  // namespace gaitshelf::client
