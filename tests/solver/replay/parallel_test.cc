#include "solver/replay/parallel.h"

#include <atomic>
#include <stdexcept>
#include <thread>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

TEST(RunPiecesTest, DoesEveryPieceOnce) {
  for (const int threads : {1, 2, 5}) {
    std::vector<std::atomic<int>> calls(17);
    EXPECT_THAT(RunPieces(17,
                          threads,
                          [&](int i) {
                            ++calls[static_cast<std::size_t>(i)];
                            return absl::OkStatus();
                          }),
                test::IsOk());
    for (const std::atomic<int>& count : calls) {
      EXPECT_EQ(count, 1);
    }
  }
}

TEST(RunPiecesTest, UsesASecondThread) {
  // Each of two pieces waits for the other: one thread alone would never end.
  std::atomic<int> arrived{0};
  EXPECT_THAT(RunPieces(2,
                        2,
                        [&](int) {
                          ++arrived;
                          while (arrived < 2) {
                            std::this_thread::yield();
                          }
                          return absl::OkStatus();
                        }),
              test::IsOk());
}

TEST(RunPiecesTest, StopsAtAFailureAndReportsIt) {
  int calls = 0;
  EXPECT_THAT(RunPieces(9,
                        1,
                        [&](int i) {
                          ++calls;
                          return i == 2 ? absl::CancelledError("piece 2") : absl::OkStatus();
                        }),
              test::HasStatus(absl::StatusCode::kCancelled, "piece 2"));
  EXPECT_EQ(calls, 3);
}

TEST(RunPiecesTest, HandsAnExceptionOfAnyThreadToTheCaller) {
  for (const int threads : {1, 2}) {
    EXPECT_THROW(static_cast<void>(RunPieces(4,
                                             threads,
                                             [](int i) -> absl::Status {
                                               if (i == 3) {
                                                 throw std::runtime_error("piece 3");
                                               }
                                               return absl::OkStatus();
                                             })),
                 std::runtime_error);
  }
}

}  // namespace
}  // namespace gaitshelf::solver
