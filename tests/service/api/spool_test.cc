#include "service/api/spool.h"

#include <array>
#include <cstdio>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/size_limit.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

TEST(SpoolTest, GivesBackItsBytesInPieces) {
  auto spool = Spool::Create();
  ASSERT_THAT(spool, test::IsOk());
  EXPECT_THAT(spool->Append("abc"), test::IsOk());
  EXPECT_THAT(spool->Append(std::string(100000, 'x')), test::IsOk());
  EXPECT_EQ(spool->size(), 100003);
  ASSERT_THAT(spool->Rewind(), test::IsOk());
  std::array<char, 4> bytes{};
  ASSERT_EQ(*spool->Read(bytes.data(), bytes.size()), 4U);
  EXPECT_EQ(std::string(bytes.data(), 4), "abcx");
  std::size_t rest = 0;
  while (const std::size_t got = *spool->Read(bytes.data(), bytes.size())) {
    rest += got;
  }
  EXPECT_EQ(rest, 99999U);
}

TEST(SpoolTest, SaysWhereRoomIsWanted) {
  auto spool = Spool::Create();
  ASSERT_THAT(spool, test::IsOk());
  const test::SizeLimit limit(1000);
  EXPECT_THAT(
      spool->Append(std::string(100000, 'x')),
      test::HasStatus(absl::StatusCode::kResourceExhausted,
                      testing::AllOf(testing::HasSubstr(P_tmpdir), testing::HasSubstr("MB left"))));
}

}  // namespace
}  // namespace gaitshelf::service
