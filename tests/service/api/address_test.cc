#include "service/api/address.h"

#include <filesystem>
#include <fstream>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/api/served_library.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using test::HasStatus;
using test::IsOk;
using testing::HasSubstr;

std::string Read(const std::string& text) {
  const absl::StatusOr<Address> address = ParseAddress(text);
  return address.ok() ? ToString(*address) : "refused";
}

TEST(ParseAddressTest, AcceptsSocketsAndLoopback) {
  EXPECT_EQ(Read("unix:/tmp/a b"), "unix:/tmp/a b");
  EXPECT_EQ(Read("unix:///tmp/a"), "unix:/tmp/a");
  EXPECT_EQ(Read("unix:a"), "unix:a");
  EXPECT_EQ(Read("127.0.0.1:0"), "127.0.0.1:0");
  EXPECT_EQ(Read("127.8.9.1:65535"), "127.8.9.1:65535");
  EXPECT_EQ(Read("localhost:50051"), "127.0.0.1:50051");
  EXPECT_EQ(Read("[::1]:5"), "[::1]:5");
}

TEST(ParseAddressTest, TakesWhatOthersCanReachWithTlsOnly) {
  for (const char* text :
       {"0.0.0.0:50051", "[::]:50051", "192.168.1.4:1", "128.0.0.1:1", "[::ffff:127.0.0.1]:1"}) {
    EXPECT_THAT(ParseListenAddress(text, false),
                HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("this machine only")))
        << text;
    EXPECT_THAT(ParseListenAddress(text, true), test::IsOk()) << text;
  }
  EXPECT_THAT(ParseListenAddress("127.0.0.1:1", false), test::IsOk());
  EXPECT_THAT(ParseListenAddress("unix:/tmp/a", false), test::IsOk());
}

TEST(ParseAddressTest, RefusesNamesOfHosts) {
  for (const char* text : {"example.org:80", "127.0.0.1.example.org:80", "*:1", ":1"}) {
    EXPECT_THAT(ParseListenAddress(text, true),
                HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("must be a number")))
        << text;
  }
}

TEST(ParseAddressTest, RefusesNonsenseAndSaysWhatIsAllowed) {
  for (const char* text :
       {"", "127.0.0.1", "127.0.0.1:", "127.0.0.1:x", "127.0.0.1:65536", "127.0.0.1:-1", "unix:"}) {
    EXPECT_THAT(ParseAddress(text),
                HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("give unix:PATH")))
        << text;
  }
  EXPECT_THAT(ParseAddress("unix:/" + std::string(107, 'x')),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("108 characters")));
}

TEST(SocketLockTest, IsHeldByOneAtATime) {
  const test::TemporaryFolder folder;
  {
    const absl::StatusOr<SocketLock> first = SocketLock::Take(folder.File("s"));
    ASSERT_THAT(first, IsOk());
    EXPECT_THAT(SocketLock::Take(folder.File("s")).status(),
                HasStatus(absl::StatusCode::kAlreadyExists, HasSubstr("another server")));
    EXPECT_THAT(SocketLock::Take(folder.File("t")), IsOk());
  }
  EXPECT_THAT(SocketLock::Take(folder.File("s")), IsOk());
}

TEST(SocketLockTest, LeavesOtherFilesAlone) {
  const test::TemporaryFolder folder;
  std::ofstream(folder.File("notes")) << "precious";
  EXPECT_THAT(SocketLock::Take(folder.File("notes")).status(),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("not a socket")));
  EXPECT_TRUE(std::filesystem::exists(folder.File("notes")));
  EXPECT_THAT(SocketLock::Take(folder.File("no/such/folder")).status(),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("cannot open")));
}

}  // namespace
}  // namespace gaitshelf::service
