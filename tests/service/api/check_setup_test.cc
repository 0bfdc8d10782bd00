#include "service/api/check_setup.h"

#include <filesystem>
#include <fstream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/lab.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using test::HasStatus;
using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

class CheckSetupTest : public testing::Test {
 protected:
  CheckSetupTest() {
    lab_.Run("server", "10.0.3.7");
    line_.library = lab_.File("library.db");
    line_.listen = {"unix:" + lab_.File("socket"), "0.0.0.0:0"};
    line_.tls_folder = lab_.server_folder();
    line_.worker_program = "/bin/true";
    line_.backup_folder = lab_.File("");
  }

  test::Lab lab_;
  CommandLine line_;
};

TEST_F(CheckSetupTest, TakesWhatCanWorkAndLeavesItAlone) {
  EXPECT_THAT(CheckSetup(line_), test::IsOk());
  EXPECT_FALSE(std::filesystem::exists(line_.library));
  EXPECT_FALSE(std::filesystem::exists(lab_.File("socket")));
}

TEST_F(CheckSetupTest, NamesEverythingThatCannot) {
  line_.library = "/nowhere/library.db";
  line_.listen = {"unix:/nowhere/else/socket"};
  line_.worker_program = lab_.File("server/ca.pem");
  line_.backup_folder = "/nowhere/copies";
  std::ofstream(lab_.File("server/members")) << "ada owner\n";
  std::filesystem::remove(lab_.File("server/server.pem"));
  EXPECT_THAT(CheckSetup(line_),
              HasStatus(absl::StatusCode::kFailedPrecondition,
                        AllOf(HasSubstr("--library: /nowhere: No such file"),
                              HasSubstr("--listen: /nowhere/else: No such file"),
                              HasSubstr("--worker-program: "),
                              HasSubstr("--backups: /nowhere/copies"),
                              HasSubstr("--tls: cannot read"),
                              HasSubstr("role of ada is 'owner'"))));
}

TEST_F(CheckSetupTest, AFolderIsNoLibraryAndADatabaseIsNotAsked) {
  line_.library = lab_.server_folder();
  EXPECT_THAT(CheckSetup(line_),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("is a folder")));
  line_.library = "postgresql:///gaits";
  EXPECT_THAT(CheckSetup(line_), test::IsOk());
}

}  // namespace
}  // namespace gaitshelf::service
