#include "clients/cli/output_file.h"

#include <filesystem>
#include <fstream>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::client {
namespace {

using test::HasStatus;
using testing::HasSubstr;

TEST(OutputFileTest, HasItsNameOnlyOnceItIsWhole) {
  const test::TemporaryFolder folder;
  const std::string path = folder.File("table.h");
  OutputFile file(path);
  file.stream() << "whole";
  EXPECT_TRUE(file.Check().ok());
  EXPECT_FALSE(std::filesystem::exists(path));
  EXPECT_TRUE(std::filesystem::exists(file.part_path()));
  EXPECT_TRUE(file.Finish().ok());
  EXPECT_FALSE(std::filesystem::exists(file.part_path()));
  std::string text;
  std::getline(std::ifstream(path), text);
  EXPECT_EQ(text, "whole");
}

TEST(OutputFileTest, NamesThePathThatCannotBeWritten) {
  OutputFile file("/nonexistent/table.h");
  file.stream() << "lost";
  const auto refused =
      HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("/nonexistent/table.h"));
  EXPECT_THAT(file.Check(), refused);
  EXPECT_THAT(file.Finish(), refused);
}

}  // namespace
}  // namespace gaitshelf::client
