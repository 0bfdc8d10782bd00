#include "service/api/gait_memory.h"

#include <cstddef>
#include <limits>

#include <gtest/gtest.h>
#include <sys/sysinfo.h>

namespace gaitshelf::service {
namespace {

constexpr std::size_t kMebibyte = 1 << 20;

TEST(GaitMemoryTest, IsWhatWasAskedFor) {
  EXPECT_EQ(GaitMemoryBytes(300, 64 * kMebibyte), 300 * kMebibyte);
  // The most that the flag takes.
  EXPECT_EQ(GaitMemoryBytes(1000000, 0), 1000000 * kMebibyte);
}

TEST(GaitMemoryTest, IsAnEighthOfTheMachinesOnItsOwn) {
  EXPECT_EQ(GaitMemoryBytes(0, 4096 * kMebibyte), 512 * kMebibyte);
  EXPECT_EQ(GaitMemoryBytes(0, 8192 * kMebibyte), 1024 * kMebibyte);
}

TEST(GaitMemoryTest, IsBoundedOnALargeMachineAndOneThatDoesNotTell) {
  EXPECT_EQ(GaitMemoryBytes(0, 9000 * kMebibyte), 1024 * kMebibyte);
  EXPECT_EQ(GaitMemoryBytes(0, std::numeric_limits<std::size_t>::max()), 1024 * kMebibyte);
  EXPECT_EQ(GaitMemoryBytes(0, 0), 1024 * kMebibyte);
}

TEST(GaitMemoryTest, KnowsTheMachinesMemory) {
  // The bytes of sysinfo(2), where the other counts pages.
  struct sysinfo kernel = {};
  ASSERT_EQ(sysinfo(&kernel), 0);
  EXPECT_EQ(MachineMemoryBytes(), std::size_t{kernel.totalram} * kernel.mem_unit);
}

}  // namespace
}  // namespace gaitshelf::service
