#include "service/api/admission.h"

#include <chrono>
#include <memory>
#include <thread>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using test::HasStatus;
using testing::HasSubstr;

class AdmissionTest : public testing::Test {
 protected:
  const std::shared_ptr<PlaceCount> all_ = std::make_shared<PlaceCount>();
  Admission streams_{{.total = 3, .each = 2}, "streams", "TOO_MANY_STREAMS", all_};
};

TEST_F(AdmissionTest, RefusesWhatIsTooMuchInAll) {
  const Admission::Place first(&streams_, "");
  const Admission::Place second(&streams_, "");
  {
    const Admission::Place third(&streams_, "ada");
    EXPECT_TRUE(third.is_taken());
    const Admission::Place fourth(&streams_, "ben");
    EXPECT_FALSE(fourth.is_taken());
    EXPECT_THAT(
        fourth.refusal(),
        HasStatus(absl::StatusCode::kResourceExhausted, HasSubstr("3 streams are under way")));
    EXPECT_EQ(all_->count(), 3);
  }
  EXPECT_TRUE(Admission::Place(&streams_, "ben").is_taken());
  EXPECT_EQ(all_->count(), 2);
}

TEST_F(AdmissionTest, LeavesOthersWhatOneMemberMayNotHave) {
  const Admission::Place first(&streams_, "ada");
  const Admission::Place second(&streams_, "ada");
  const Admission::Place third(&streams_, "ada");
  EXPECT_THAT(
      third.refusal(),
      HasStatus(absl::StatusCode::kResourceExhausted, HasSubstr("2 streams of ada are under way")));
  EXPECT_TRUE(Admission::Place(&streams_, "ben").is_taken());
}

TEST_F(AdmissionTest, TellsWhenNoPlaceIsHeld) {
  const auto soon = [] { return std::chrono::steady_clock::now() + std::chrono::milliseconds(1); };
  EXPECT_TRUE(all_->AwaitNone(soon()));
  auto place = std::make_unique<Admission::Place>(&streams_, "ada");
  EXPECT_FALSE(all_->AwaitNone(soon()));
  std::thread leaving([&] { place.reset(); });
  EXPECT_TRUE(all_->AwaitNone(std::chrono::steady_clock::now() + std::chrono::minutes(1)));
  leaving.join();
}

}  // namespace
}  // namespace gaitshelf::service
