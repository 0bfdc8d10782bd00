#include "service/api/load_gait.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/api/served_library.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using test::HasStatus;
using testing::HasSubstr;

class LoadGaitTest : public test::ServedLibrary {};

TEST_F(LoadGaitTest, LoadsOnlyGoodGaits) {
  const v1::Gait good = StoreGait(v1::VERDICT_GOOD);
  const auto loaded = LoadGoodGait(library_.get(), good.name());
  ASSERT_THAT(loaded, test::IsOk());
  EXPECT_EQ(loaded->voltage_v_size(), good.voltage_v_size());
  EXPECT_THAT(LoadGoodGait(library_.get(), "g-0"),
              HasStatus(absl::StatusCode::kNotFound, HasSubstr("g-0")));
}

TEST_F(LoadGaitTest, SaysWhyAGaitIsNotPlayed) {
  const v1::Gait failed = StoreGait(v1::VERDICT_FAILED);
  EXPECT_THAT(LoadGoodGait(library_.get(), failed.name()),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("it fell over")));
}

TEST_F(LoadGaitTest, AsksForAPersonUnlessItIsAPreview) {
  EXPECT_THAT(CheckArmed("ada", false), test::IsOk());
  EXPECT_THAT(CheckArmed("", true), test::IsOk());
  EXPECT_THAT(CheckArmed("", false),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("present person")));
}

}  // namespace
}  // namespace gaitshelf::service
