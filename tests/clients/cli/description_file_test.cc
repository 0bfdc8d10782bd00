#include "clients/cli/description_file.h"

#include <fstream>
#include <string>
#include <thread>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>

#include "clients/cli/exit_code.h"
#include "tests/clients/cli/scripted_server.h"
#include "tests/support/paths.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::client {
namespace {

using testing::AllOf;
using testing::HasSubstr;

class DescriptionFileTest : public ScriptedServer {
 protected:
  std::string Write(const std::string& name, const std::string& text) {
    const std::string path = folder_.path() + "/" + name;
    std::ofstream(path) << text;
    return path;
  }

  test::TemporaryFolder folder_;
};

TEST_F(DescriptionFileTest, HasTheServerReadTheDemonstrationFile) {
  const std::string path = test::SourcePath("deploy/demo/weevil.robot.textproto");
  EXPECT_EQ(Run({"modes", path}), kExitOk) << err_;
  const v1::FindModesRequest request = model_.last_request.Get();
  EXPECT_EQ(request.robot().name(), "weevil");
  EXPECT_EQ(request.robot().legs_size(), 4);
}

TEST_F(DescriptionFileTest, TellsTheKindByTheNameAndElseByTheContent) {
  EXPECT_EQ(KindOfText("a.robot.textproto", "friction"), DescriptionKind::kRobot);
  EXPECT_EQ(KindOfText("a.surface.textproto", ""), DescriptionKind::kSurface);
  EXPECT_EQ(KindOfText("a.txt", "name: \"weevil\"\nbody { mass_kg: 2e-3 }\n"),
            DescriptionKind::kRobot);
  EXPECT_EQ(KindOfText("a.txt", "name: \"felt\"\nfriction_coefficient: 0.4\n"),
            DescriptionKind::kSurface);
}

// What comes from another command can be read once only.
TEST_F(DescriptionFileTest, ChecksWhatComesThroughAPipe) {
  const std::string path = folder_.path() + "/pipe";
  ASSERT_EQ(mkfifo(path.c_str(), 0600), 0);
  std::thread writer([&] { std::ofstream(path) << "name: \"felt\"\nfriction_coefficient: 4\n"; });
  EXPECT_EQ(Run({"check", path}), kExitUsage);
  writer.join();
  EXPECT_THAT(err_, HasSubstr("/pipe: 2 faults"));
}

TEST_F(DescriptionFileTest, PrintsEveryFaultOfTheTextWithItsPlace) {
  const std::string path = Write("c.robot.textproto", "two faults");
  for (const std::vector<std::string>& verb :
       {std::vector<std::string>{"robot", "put"}, {"check"}, {"modes"}}) {
    std::vector<std::string> words = verb;
    words.push_back(path);
    EXPECT_EQ(Run(words), kExitUsage);
    EXPECT_EQ(out_, "");
    EXPECT_EQ(err_,
              "gaitshelf: " + path +
                  ": 2 faults\n"
                  "  body.mass_g: is unknown; is not a field of Body; write mass_kg (line 2, "
                  "column 8)\n"
                  "  body.mass_g: is unknown; is not a field of Body; write mass_kg (line 4, "
                  "column 8)\n");
  }
}

TEST_F(DescriptionFileTest, PrintsTheFaultsOfASurfaceToo) {
  EXPECT_EQ(Run({"surface", "put", Write("g.surface.textproto", "colour: 1")}), kExitUsage);
  EXPECT_THAT(err_, HasSubstr("g.surface.textproto: 1 fault\n  colour: is unknown"));
}

TEST_F(DescriptionFileTest, SaysWhyAFileCannotBeRead) {
  EXPECT_EQ(Run({"surface", "put", "/nonexistent/felt.surface.textproto"}), kExitError);
  EXPECT_THAT(err_, AllOf(HasSubstr("cannot be read"), HasSubstr("No such file")));
  EXPECT_EQ(Run({"robot", "put", "/tmp"}), kExitError);
  EXPECT_THAT(err_, HasSubstr("/tmp: cannot be read"));
}

TEST_F(DescriptionFileTest, RefusesAFileThatIsTooLargeForADescription) {
  EXPECT_EQ(Run({"surface", "put", Write("d.surface.textproto", std::string(524288, ' '))}),
            kExitOk)
      << err_;
  EXPECT_EQ(Run({"surface", "put", Write("e.surface.textproto", std::string(524289, ' '))}),
            kExitUsage);
  EXPECT_THAT(err_, HasSubstr("e.surface.textproto: is larger than 524288 bytes; give"));
}

TEST_F(DescriptionFileTest, SaysThatNobodyAnswers) {
  server_->Shutdown();
  EXPECT_EQ(Run({"robot", "put", Write("f.robot.textproto", "")}), kExitError);
  EXPECT_THAT(err_, HasSubstr("no server answers at unix:"));
}

}  // namespace
}  // namespace gaitshelf::client
