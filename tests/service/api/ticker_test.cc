#include "service/api/ticker.h"

#include <atomic>

#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

class Counter final : public Ticker::Client {
 public:
  void Tick(std::chrono::steady_clock::time_point) override { ++count; }
  std::atomic<int> count = 0;
};

TEST(TickerTest, CallsItsClientsUntilTheyLeave) {
  Ticker ticker(std::chrono::milliseconds(1));
  Counter stays;
  Counter leaves;
  ticker.Add(&stays);
  ticker.Add(&leaves);
  while (leaves.count < 3) {
    std::this_thread::yield();
  }
  ticker.Remove(&leaves);
  const int left_at = leaves.count;
  const int before = stays.count;
  while (stays.count < before + 3) {
    std::this_thread::yield();
  }
  EXPECT_EQ(leaves.count, left_at);
  ticker.Remove(&stays);
}

}  // namespace
}  // namespace gaitshelf::service
