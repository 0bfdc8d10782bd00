#include "clients/cli/interrupts.h"

#include <chrono>
#include <csignal>
#include <future>
#include <thread>

#include <gtest/gtest.h>
#include <unistd.h>

#include "clients/cli/exit_code.h"

namespace gaitshelf::client {
namespace {

// Far longer than a signal needs, so that only a lost one fails.
constexpr std::chrono::seconds kWait{20};

TEST(InterruptsTest, CallsTheActionOnASignal) {
  Interrupts interrupts;
  std::promise<void> called;
  const InterruptScope scope(&interrupts, [&called] { called.set_value(); });
  EXPECT_FALSE(scope.was_interrupted());
  kill(getpid(), SIGINT);
  ASSERT_EQ(called.get_future().wait_for(kWait), std::future_status::ready);
  EXPECT_TRUE(scope.was_interrupted());
}

TEST(InterruptsTest, EndsAtOnceWithoutASignal) {
  const auto start = std::chrono::steady_clock::now();
  { Interrupts interrupts; }
  EXPECT_LT(std::chrono::steady_clock::now() - start, kWait);
}

TEST(InterruptsDeathTest, EndsTheProcessWithoutAnAction) {
  testing::FLAGS_gtest_death_test_style = "threadsafe";
  EXPECT_EXIT(
      {
        Interrupts interrupts;
        kill(getpid(), SIGTERM);
        std::this_thread::sleep_for(kWait);
      },
      testing::ExitedWithCode(kExitInterrupted),
      "");
}

TEST(InterruptsDeathTest, EndsTheProcessAfterAScope) {
  testing::FLAGS_gtest_death_test_style = "threadsafe";
  EXPECT_EXIT(
      {
        Interrupts interrupts;
        {
          const InterruptScope scope(&interrupts, [] {});
        }
        kill(getpid(), SIGINT);
        std::this_thread::sleep_for(kWait);
      },
      testing::ExitedWithCode(kExitInterrupted),
      "");
}

TEST(InterruptsDeathTest, EndsTheProcessOnASecondSignal) {
  testing::FLAGS_gtest_death_test_style = "threadsafe";
  EXPECT_EXIT(
      {
        Interrupts interrupts;
        std::promise<void> called;
        const InterruptScope scope(&interrupts, [&called] { called.set_value(); });
        kill(getpid(), SIGINT);
        called.get_future().wait();
        kill(getpid(), SIGINT);
        std::this_thread::sleep_for(kWait);
      },
      testing::ExitedWithCode(kExitInterrupted),
      "");
}

}  // namespace
}  // namespace gaitshelf::client
