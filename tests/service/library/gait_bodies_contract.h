// Contract tests: the bytes of gaits, stored and kept in memory.
#ifndef GAITSHELF_TESTS_SERVICE_LIBRARY_GAIT_BODIES_CONTRACT_H_
#define GAITSHELF_TESTS_SERVICE_LIBRARY_GAIT_BODIES_CONTRACT_H_

#include <chrono>
#include <cstdint>
#include <functional>
#include <limits>
#include <memory>
#include <string>
#include <thread>

#include "tests/service/library/library_contract.h"

namespace gaitshelf::service {

class GaitBodiesContract : public LibraryContract {
 protected:
  static bool AwaitTrue(const std::function<bool()>& is_true) {
    for (int i = 0; i < 500 && !is_true(); ++i) {
      std::this_thread::sleep_for(std::chrono::milliseconds(10));
    }
    return is_true();
  }
  // A database that has to be listened to is heard after a moment.
  void AwaitNews() {
    ASSERT_TRUE(AwaitTrue([this] { return library_->JobNews("j-1").has_value(); }));
  }
};

TEST_P(GaitBodiesContract, ReturnsTheBytesThatWereStored) {
  const v1::Gait gait = MakeStoredGait("g-1", v1::VERDICT_GOOD, 2.0);
  ASSERT_THAT(library_->InsertGait(gait, "key"), test::IsOk());
  Reopen();
  const auto bytes = library_->GetGaitBytes("g-1");
  ASSERT_THAT(bytes, test::IsOk());
  EXPECT_EQ(**bytes, gait.SerializeAsString());
}

// A gait that was read is kept, but no longer than it is what is stored.
TEST_P(GaitBodiesContract, HandsOutTheNewAuditOfAGaitThatItKeeps) {
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-1", v1::VERDICT_FAILED, 1.0), "key"),
              test::IsOk());
  AwaitNews();
  ASSERT_THAT(library_->GetGaitBytes("g-1"), test::IsOk());
  EXPECT_EQ(*library_->GetGaitBytes("g-1"), *library_->GetGaitBytes("g-1"));
  const v1::Gait good = MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0);
  ASSERT_THAT(library_->InsertGait(good, "key"), test::IsOk());
  EXPECT_EQ(**library_->GetGaitBytes("g-1"), good.SerializeAsString());
}

TEST_P(GaitBodiesContract, HearsOfWhatAnotherProcessDoesToAGaitThatItKeeps) {
  const std::unique_ptr<Library> other = OpenSecond();
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-1", v1::VERDICT_FAILED, 1.0), "key"),
              test::IsOk());
  AwaitNews();
  ASSERT_THAT(library_->GetGaitBytes("g-1"), test::IsOk());
  const v1::Gait good = MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0);
  ASSERT_THAT(other->InsertGait(good, "key"), test::IsOk());
  EXPECT_TRUE(
      AwaitTrue([&] { return **library_->GetGaitBytes("g-1") == good.SerializeAsString(); }));
  ASSERT_THAT(other->RetireGait({.gait = "g-1", .reason = "worn", .requester = "ada"}),
              test::IsOk());
  const std::int64_t later_us = std::numeric_limits<std::int64_t>::max();
  ASSERT_THAT(other->CollectGarbage({.retired_before_us = later_us}), test::IsOk());
  EXPECT_TRUE(AwaitTrue([&] { return absl::IsNotFound(library_->GetGaitBytes("g-1").status()); }));
}

TEST_P(GaitBodiesContract, LoadsAllThatAreNotRetired) {
  EXPECT_EQ(library_->LoadGaits([] { return false; })->gait_count, 0);
  std::int64_t byte_count = 0;
  for (const char* name : {"g-1", "g-2", "g-3"}) {
    const v1::Gait gait = MakeStoredGait(name, v1::VERDICT_GOOD, 1.0);
    ASSERT_THAT(library_->InsertGait(gait, name), test::IsOk());
    byte_count += static_cast<std::int64_t>(gait.ByteSizeLong());
  }
  ASSERT_THAT(library_->RetireGait({.gait = "g-2", .reason = "worn", .requester = "ada"}),
              test::IsOk());
  EXPECT_EQ(library_->LoadGaits([] { return true; })->gait_count, 0);
  for (int i = 0; i < 2; ++i) {  // again there is nothing to do
    const auto loaded = library_->LoadGaits([] { return false; });
    ASSERT_THAT(loaded, test::IsOk());
    EXPECT_EQ(loaded->gait_count, 2);
    EXPECT_EQ(loaded->byte_count, byte_count / 3 * 2);
    EXPECT_FALSE(loaded->is_full);
  }
}

}  // namespace gaitshelf::service

#endif  // GAITSHELF_TESTS_SERVICE_LIBRARY_GAIT_BODIES_CONTRACT_H_
