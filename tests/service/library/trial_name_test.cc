#include "service/library/trial_name.h"

#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

TEST(TrialNameTest, DependsOnDescriptionAndSamplesAndNotOnStoring) {
  v1::Trial trial;
  trial.set_title("first");
  const auto name = TrialName(trial, {"ab", "c"});
  ASSERT_THAT(name, test::IsOk());
  EXPECT_THAT(*name, testing::MatchesRegex("t-[0-9a-f]+"));
  EXPECT_EQ(name->size(), 34U);
  v1::Trial stored = trial;
  stored.set_name(*name);
  stored.mutable_create_time()->set_seconds(5);
  EXPECT_EQ(*TrialName(stored, {"ab", "c"}), *name);
  EXPECT_NE(*TrialName(trial, {"a", "bc"}), *name);
  EXPECT_NE(*TrialName(trial, {"ab"}), *name);
  trial.set_title("second");
  EXPECT_NE(*TrialName(trial, {"ab", "c"}), *name);
}

// The sum of sums, by sha256sum: of nothing 32 bytes e3b0c442..., and the SHA-256 of those bytes.
TEST(TrialNameTest, OfNothingIsTheChecksumOfAChecksum) {
  EXPECT_EQ(*TrialName({}, {}), "t-5df6e0e2761359d30a8275058e299fcc");
}

}  // namespace
}  // namespace gaitshelf::service
