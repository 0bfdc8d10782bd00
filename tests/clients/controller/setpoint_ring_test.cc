#include "clients/controller/setpoint_ring.h"

#include <thread>

#include <gtest/gtest.h>

namespace gaitshelf::client {
namespace {

TEST(SetpointRingTest, HoldsAsManyAsItHasRoomFor) {
  SetpointRing ring(2);
  Setpoint setpoint;
  EXPECT_FALSE(ring.Take(&setpoint));
  for (int round = 0; round < 5; ++round) {
    setpoint.number = 10 + round;
    EXPECT_TRUE(ring.Put(setpoint));
    EXPECT_TRUE(ring.Put(setpoint));
    EXPECT_FALSE(ring.Put(setpoint));
    EXPECT_EQ(ring.size(), 2U);
    EXPECT_TRUE(ring.Take(&setpoint));
    EXPECT_TRUE(ring.Take(&setpoint));
    EXPECT_EQ(setpoint.number, 10 + round);
    EXPECT_EQ(ring.size(), 0U);
  }
}

TEST(SetpointRingTest, KeepsOrderAndContentBetweenThreads) {
  constexpr int kCount = 5000;
  SetpointRing ring(50);
  std::thread putting([&ring] {
    Setpoint setpoint;
    for (int i = 0; i < kCount; ++i) {
      setpoint.number = i;
      setpoint.position_m.fill(i);
      while (!ring.Put(setpoint)) {
        std::this_thread::yield();
      }
    }
  });
  Setpoint setpoint;
  for (int i = 0; i < kCount; ++i) {
    while (!ring.Take(&setpoint)) {
      std::this_thread::yield();
    }
    ASSERT_EQ(setpoint.number, i);
    ASSERT_EQ(setpoint.position_m.front(), i);
    ASSERT_EQ(setpoint.position_m.back(), i);
  }
  putting.join();
}

}  // namespace
}  // namespace gaitshelf::client
