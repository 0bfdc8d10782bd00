#include "service/access/member_list.h"

#include <chrono>
#include <fstream>
#include <string>
#include <thread>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/log_lines.h"
#include "tests/support/status_matchers.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::service {
namespace {

using absl::StatusCode;
using test::HasStatus;
using testing::AllOf;
using testing::ElementsAre;
using testing::HasSubstr;

const std::string kSum(64, 'a');

TEST(MemberListTest, ReadsNamesRolesAndCertificates) {
  const auto members = ParseMembers("# the bench\n\nada keeper " + std::string(64, 'A') + " " +
                                    std::string(64, '0') + "\n  ben\treader # on leave\r\n");
  ASSERT_THAT(members.status(), test::IsOk());
  ASSERT_EQ(members->size(), 2U);
  EXPECT_EQ(members->at("ada").role, Role::kKeeper);
  EXPECT_THAT(members->at("ada").fingerprints, ElementsAre(kSum, std::string(64, '0')));
  EXPECT_EQ(members->at("ben").role, Role::kReader);
  EXPECT_THAT(members->at("ben").fingerprints, testing::IsEmpty());
}

TEST(MemberListTest, NamesEveryFaultWithItsLine) {
  EXPECT_THAT(
      ParseMembers("ada\nben owner\nb/n reader\nada reader abc\nkim reader\nkim keeper\n").status(),
      HasStatus(StatusCode::kInvalidArgument,
                AllOf(HasSubstr("line 1: role of ada is ''"),
                      HasSubstr("line 2: role of ben is 'owner'; give reader, planner or keeper"),
                      HasSubstr("line 3: name is 'b/n'"),
                      HasSubstr("line 4: fingerprint of ada is 'abc'"),
                      HasSubstr("line 6: name kim is there twice"))));
}

class OpenMemberListTest : public testing::Test {
 protected:
  void Write(const std::string& text) {
    // As lab-ca does: in place in one step.
    std::ofstream(path_ + ".new") << text;
    std::filesystem::rename(path_ + ".new", path_);
  }
  absl::StatusOr<std::unique_ptr<MemberList>> Open() { return MemberList::Open(path_, log_.log()); }
  // Waits until the list says so.
  static bool Await(const std::function<bool()>& is_true) {
    for (int i = 0; i < 3000 && !is_true(); ++i) {
      std::this_thread::sleep_for(std::chrono::milliseconds(10));
    }
    return is_true();
  }

  test::TemporaryFolder folder_;
  const std::string path_ = folder_.File("members");
  test::LogLines log_;
};

TEST_F(OpenMemberListTest, TakesChangesWhileItIsInUse) {
  Write("ada planner\n");
  const auto list = Open();
  ASSERT_THAT(list.status(), test::IsOk());
  EXPECT_EQ((*list)->Find("ada")->role, Role::kPlanner);
  EXPECT_FALSE((*list)->Find("ben").has_value());
  Write("ben reader\n");
  EXPECT_TRUE(Await([&] { return !(*list)->Find("ada").has_value(); }));
  EXPECT_EQ((*list)->Find("ben")->role, Role::kReader);
  EXPECT_THAT(log_.lines(),
              ElementsAre(HasSubstr("event=\"list of members is read anew\" members=1")));
}

TEST_F(OpenMemberListTest, KeepsTheListWhenTheFileIsSpoilt) {
  Write("ada planner\n");
  const auto list = Open();
  ASSERT_THAT(list.status(), test::IsOk());
  Write("ada owner\n");
  EXPECT_TRUE(Await([&] {
    static_cast<void>((*list)->Find("ada"));
    return !log_.lines().empty();
  }));
  EXPECT_EQ((*list)->Find("ada")->role, Role::kPlanner);
  EXPECT_THAT(log_.lines(),
              ElementsAre(AllOf(HasSubstr("level=error event=\"list of members stays as it was\""),
                                HasSubstr("line 1: "))));
}

TEST_F(OpenMemberListTest, RefusesAFileThatIsMissingOrFaulty) {
  EXPECT_THAT(Open().status(),
              HasStatus(StatusCode::kFailedPrecondition, HasSubstr("cannot read")));
  Write("ada\n");
  EXPECT_THAT(Open().status(), HasStatus(StatusCode::kFailedPrecondition, HasSubstr("line 1")));
}

}  // namespace
}  // namespace gaitshelf::service
