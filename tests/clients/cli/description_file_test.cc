#include "clients/cli/description_file.h"

#include <cstdio>
#include <fstream>
#include <string>
#include <variant>

#include "tests/support/paths.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::client {
namespace {

using test::HasStatus;
using test::IsOk;
using testing::AllOf;
using testing::HasSubstr;

// A file in the test's own folder, removed with the object.
class TemporaryFile {
 public:
  TemporaryFile(const std::string& name, const std::string& text)
      : path_(testing::TempDir() + "description_file_test_" + name) {
    std::ofstream(path_) << text;
  }
  ~TemporaryFile() { std::remove(path_.c_str()); }
  TemporaryFile(const TemporaryFile&) = delete;
  TemporaryFile& operator=(const TemporaryFile&) = delete;
  const std::string& path() const { return path_; }

 private:
  std::string path_;
};

TEST(DescriptionFileTest, ReadsTheDemonstrationFiles) {
  const std::string demo = test::SourcePath("deploy/demo/");
  const auto robot = ReadRobotFile(demo + "weevil.robot.textproto");
  ASSERT_THAT(robot, IsOk());
  EXPECT_EQ(robot->legs_size(), 4);
  const auto surface = ReadDescriptionFile(demo + "duct-steel.surface.textproto");
  ASSERT_THAT(surface, IsOk());
  EXPECT_TRUE(std::holds_alternative<v1::Surface>(*surface));
}

TEST(DescriptionFileTest, TellsRobotAndSurfaceApartByContentWhenTheNameSaysNothing) {
  const TemporaryFile robot("a.txt", "name: \"weevil\"\nbody { mass_kg: 2e-3 }\n");
  const TemporaryFile surface("b.txt", "name: \"felt\"\nfriction_coefficient: 0.4\n");
  EXPECT_TRUE(std::holds_alternative<v1::Robot>(*ReadDescriptionFile(robot.path())));
  EXPECT_TRUE(std::holds_alternative<v1::Surface>(*ReadDescriptionFile(surface.path())));
}

TEST(DescriptionFileTest, NamesLineAndColumnOfAFault) {
  const TemporaryFile file("c.robot.textproto", "name: \"weevil\"\nbody { mass_g: 2 }\n");
  EXPECT_THAT(ReadRobotFile(file.path()),
              HasStatus(absl::StatusCode::kInvalidArgument,
                        AllOf(HasSubstr("c.robot.textproto:2:"), HasSubstr("mass_g"))));
}

TEST(DescriptionFileTest, SaysWhyAFileCannotBeRead) {
  EXPECT_THAT(ReadSurfaceFile("/nonexistent/felt.surface.textproto"),
              HasStatus(absl::StatusCode::kFailedPrecondition,
                        AllOf(HasSubstr("cannot be read"), HasSubstr("No such file"))));
  EXPECT_THAT(ReadRobotFile("/tmp"),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("cannot be read")));
}

}  // namespace
}  // namespace gaitshelf::client
