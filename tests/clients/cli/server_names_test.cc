#include "clients/cli/server_names.h"

#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "clients/cli/dial.h"
#include "tests/clients/cli/scripted_server.h"

namespace gaitshelf::client {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

class ServerNamesTest : public ScriptedServer {
 protected:
  std::vector<std::string> Names(NameKind kind) {
    return ServerNames(Connect("unix:" + path_ + ".sock"), kind);
  }
};

TEST_F(ServerNamesTest, ListsEveryKind) {
  EXPECT_THAT(Names(NameKind::kRobot), IsEmpty());
  EXPECT_THAT(Names(NameKind::kSurface), ElementsAre("duct-steel", "liner-felt"));
  EXPECT_THAT(Names(NameKind::kGait), ElementsAre("g-known", "g-other"));
  EXPECT_THAT(Names(NameKind::kJob), ElementsAre("j-2"));  // the first page
  EXPECT_THAT(Names(NameKind::kTrial), ElementsAre("t-1"));
  EXPECT_THAT(Names(NameKind::kCalibration), ElementsAre("c-1"));
}

TEST_F(ServerNamesTest, AnswersTheScriptWithWhatBeginsAsTyped) {
  EXPECT_EQ(RunCompletion({"show", ""}), "g-known\ng-other\n");
  EXPECT_EQ(RunCompletion({"export", "g-k"}), "g-known\n");
  EXPECT_EQ(RunCompletion({"plot", "trial", "t"}), "t-1\n");
  EXPECT_EQ(RunCompletion({"cancel", ""}), "j-2\n");
  EXPECT_EQ(RunCompletion({"calibrate", "t-0", ""}), "t-1\n");
  EXPECT_EQ(RunCompletion({"sweep", "--surface", "duct-steel,l"}), "duct-steel,liner-felt\n");
  EXPECT_EQ(RunCompletion({"order", "--surface=l"}), "liner-felt\n");
}

TEST_F(ServerNamesTest, SaysNothingWhenNobodyAnswers) {
  server_->Shutdown();
  EXPECT_THAT(Names(NameKind::kGait), IsEmpty());
  EXPECT_EQ(RunCompletion({"show", ""}), "");
}

}  // namespace
}  // namespace gaitshelf::client
