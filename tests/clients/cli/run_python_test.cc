// That the call runs, and what a missing package says, is tested in tests/end_to_end.
#include "clients/cli/run_python.h"

#include <filesystem>
#include <fstream>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/temporary_folder.h"

namespace gaitshelf::client {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

TEST(RunPythonTest, CallsDebiansPythonWithTheWordsAsTheyAre) {
  const PythonCall call = MakePythonCall({"plot", "a b; $c"}, {"HOME=/h"}, "/nonexistent/bin");
  EXPECT_THAT(call.words,
              ElementsAre("/usr/bin/python3",
                          "-B",
                          "-c",
                          HasSubstr("from gaitshelf.command import main"),
                          "plot",
                          "a b; $c"));
  EXPECT_THAT(call.environment, ElementsAre("HOME=/h"));
}

TEST(RunPythonTest, PrefersThePackageThatWasBuiltBesideTheProgram) {
  const test::TemporaryFolder folder;
  std::filesystem::create_directories(folder.File("python/gaitshelf"));
  const std::string programs = folder.File("bin");
  EXPECT_THAT(MakePythonCall({}, {"PYTHONPATH=/mine"}, programs).environment,
              ElementsAre("PYTHONPATH=/mine"));
  std::ofstream(folder.File("python/gaitshelf/__init__.py")) << "\n";
  EXPECT_THAT(MakePythonCall({}, {"PYTHONPATH=/mine"}, programs).environment,
              ElementsAre("PYTHONPATH=" + folder.File("python") + ":/mine"));
  EXPECT_THAT(MakePythonCall({}, {}, programs).environment,
              ElementsAre("PYTHONPATH=" + folder.File("python")));
}

}  // namespace
}  // namespace gaitshelf::client
