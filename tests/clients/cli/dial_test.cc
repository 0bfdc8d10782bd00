// What a real server says to it is tested in tests/end_to_end/access_test.py.
#include "clients/cli/dial.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"

namespace gaitshelf::client {
namespace {

TEST(DialTest, KnowsWhomItDials) {
  const auto connection = Dial("unix:/tmp/none.sock", "");
  ASSERT_THAT(connection.status(), test::IsOk());
  EXPECT_EQ(connection->address, "unix:/tmp/none.sock");
  EXPECT_NE(connection->library, nullptr);
  EXPECT_EQ(Connect("127.0.0.1:1").address, "127.0.0.1:1");
}

TEST(DialTest, WantsAnIdentityForAnotherMachine) {
  EXPECT_THAT(Dial("10.0.3.7:1", "").status(),
              test::HasStatus(absl::StatusCode::kInvalidArgument,
                              testing::HasSubstr("GAITSHELF_IDENTITY")));
  EXPECT_THAT(Dial("10.0.3.7:1", "/nowhere").status(),
              test::HasStatus(absl::StatusCode::kFailedPrecondition,
                              testing::HasSubstr("/nowhere/ca.pem")));
}

}  // namespace
}  // namespace gaitshelf::client
