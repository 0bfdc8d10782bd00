#include "clients/cli/connection.h"

#include <cstdlib>

#include <gtest/gtest.h>

namespace gaitshelf::client {
namespace {

TEST(ConnectionTest, TakesFlagThenEnvironmentThenTheServersOwnDefault) {
  setenv("GAITSHELF_SERVER", "127.0.0.1:1", 1);
  setenv("XDG_RUNTIME_DIR", "/run/user/7", 1);
  EXPECT_EQ(ServerAddress("unix:/a"), "unix:/a");
  EXPECT_EQ(ServerAddress({}), "127.0.0.1:1");
  unsetenv("GAITSHELF_SERVER");
  EXPECT_EQ(ServerAddress({}), "unix:/run/user/7/gaitshelf.sock");
  unsetenv("XDG_RUNTIME_DIR");
  EXPECT_EQ(ServerAddress({}), "unix:/tmp/gaitshelf.sock");
}

}  // namespace
}  // namespace gaitshelf::client
