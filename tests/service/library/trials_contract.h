// Contract tests: trials.
#ifndef GAITSHELF_TESTS_SERVICE_LIBRARY_TRIALS_CONTRACT_H_
#define GAITSHELF_TESTS_SERVICE_LIBRARY_TRIALS_CONTRACT_H_

#include <string>
#include <vector>

#include "tests/service/library/library_contract.h"

namespace gaitshelf::service {

class TrialsContract : public LibraryContract {};

inline v1::Trial MakeTrial(const std::string& name) {
  v1::Trial trial;
  trial.set_name(name);
  trial.set_kind(v1::TRIAL_KIND_GAIT);
  trial.set_gait("g-1");
  trial.set_robot("weevil");
  trial.set_surface("duct-steel");
  v1::TrialGroup* group = trial.add_groups();
  group->set_name("tracking");
  group->set_clock(v1::TRIAL_CLOCK_TRACKING);
  group->add_columns()->set_label("body x [mm]");
  return trial;
}

// Blocks may hold any bytes, a zero among them.
inline std::vector<std::string> MakeBlocks() {
  return {std::string("first\0block", 11), "second block", std::string(300000, 'x')};
}

inline v1::TrialAnalysis MakeAnalysis(const std::string& trial, int version, double stride_m) {
  v1::TrialAnalysis analysis;
  analysis.set_trial(trial);
  analysis.set_analysis_version(version);
  analysis.mutable_stride_m()->set_mean_si(stride_m);
  return analysis;
}

TEST_P(TrialsContract, ReturnsTheSamplesAsTheyWereStored) {
  const auto inserted = library_->InsertTrial(MakeTrial("t-1"), MakeBlocks());
  ASSERT_THAT(inserted, test::IsOk());
  EXPECT_TRUE(inserted->is_new);
  EXPECT_TRUE(inserted->trial.has_create_time());
  Reopen();
  const auto trial = library_->GetTrial("t-1");
  ASSERT_THAT(trial, test::IsOk());
  EXPECT_EQ(trial->SerializeAsString(), inserted->trial.SerializeAsString());
  ASSERT_EQ(*library_->CountTrialBlocks("t-1"), 3);
  for (int i = 0; i < 3; ++i) {
    EXPECT_EQ(*library_->GetTrialBlock("t-1", i), MakeBlocks()[static_cast<std::size_t>(i)]);
  }
}

TEST_P(TrialsContract, NamesATrialThatIsNotThere) {
  const auto is_not_there =
      test::HasStatus(absl::StatusCode::kNotFound, testing::HasSubstr("'t-0'"));
  EXPECT_THAT(library_->GetTrial("t-0"), is_not_there);
  EXPECT_THAT(library_->CountTrialBlocks("t-0"), is_not_there);
  EXPECT_THAT(library_->GetTrialBlock("t-0", 0), is_not_there);
  EXPECT_THAT(library_->PutTrialAnalysis(MakeAnalysis("t-0", 1, 0.009)), is_not_there);
  ASSERT_THAT(library_->InsertTrial(MakeTrial("t-1"), MakeBlocks()), test::IsOk());
  EXPECT_THAT(library_->GetTrialBlock("t-1", 3),
              test::HasStatus(absl::StatusCode::kNotFound, testing::HasSubstr("block 3")));
  EXPECT_THAT(library_->GetTrialBlock("t-1", -1),
              test::HasStatus(absl::StatusCode::kNotFound, testing::HasSubstr("block -1")));
}

TEST_P(TrialsContract, RefusesATrialWithoutAName) {
  EXPECT_THAT(library_->InsertTrial(MakeTrial(""), MakeBlocks()),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("name")));
}

TEST_P(TrialsContract, StoringTheSameTrialAgainChangesNothing) {
  const auto first = library_->InsertTrial(MakeTrial("t-1"), MakeBlocks());
  const auto second = library_->InsertTrial(MakeTrial("t-1"), MakeBlocks());
  ASSERT_THAT(second, test::IsOk());
  EXPECT_FALSE(second->is_new);
  EXPECT_EQ(second->trial.SerializeAsString(), first->trial.SerializeAsString());
  EXPECT_EQ(*library_->CountTrialBlocks("t-1"), 3);
  EXPECT_EQ(library_->ListTrials({}, {})->trials.size(), 1U);
}

TEST_P(TrialsContract, ListsNewestFirstPageByPageAndByFilter) {
  for (const char* name : {"t-1", "t-2", "t-3"}) {
    ASSERT_THAT(library_->InsertTrial(MakeTrial(name), {}), test::IsOk());
  }
  v1::Trial bench = MakeTrial("t-4");
  bench.set_kind(v1::TRIAL_KIND_TILT);
  bench.clear_gait();
  bench.set_robot("earwig");
  ASSERT_THAT(library_->InsertTrial(bench, {}), test::IsOk());
  const auto first = library_->ListTrials({}, {.page_size = 3});
  ASSERT_THAT(first, test::IsOk());
  ASSERT_EQ(first->trials.size(), 3U);
  EXPECT_EQ(first->trials[0].name(), "t-4");
  const auto rest =
      library_->ListTrials({}, {.page_size = 3, .page_token = first->next_page_token});
  ASSERT_EQ(rest->trials.size(), 1U);
  EXPECT_EQ(rest->trials[0].name(), "t-1");
  EXPECT_EQ(rest->next_page_token, "");
  EXPECT_EQ(library_->ListTrials({.robot = "earwig"}, {})->trials.size(), 1U);
  EXPECT_EQ(library_->ListTrials({.gait = "g-1"}, {})->trials.size(), 3U);
  EXPECT_EQ(library_->ListTrials({.kind = v1::TRIAL_KIND_TILT}, {})->trials.size(), 1U);
  EXPECT_THAT(library_->ListTrials({}, {.page_size = 1001}),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("1001")));
}

TEST_P(TrialsContract, KeepsAnalysesByVersionAndOptions) {
  ASSERT_THAT(library_->InsertTrial(MakeTrial("t-1"), MakeBlocks()), test::IsOk());
  v1::TrialAnalysis analysis = MakeAnalysis("t-1", 1, 0.008);
  ASSERT_THAT(library_->PutTrialAnalysis(analysis), test::IsOk());
  analysis.mutable_stride_m()->set_mean_si(0.0085);  // takes the place
  ASSERT_THAT(library_->PutTrialAnalysis(analysis), test::IsOk());
  v1::TrialAnalysis other = MakeAnalysis("t-1", 1, 0.007);
  other.mutable_options()->set_left_out_count(0);
  ASSERT_THAT(library_->PutTrialAnalysis(other), test::IsOk());
  Reopen();
  const auto found = library_->FindTrialAnalysis("t-1", 1, {});
  ASSERT_THAT(found, test::IsOk());
  ASSERT_TRUE(found->has_value());
  EXPECT_EQ((*found)->stride_m().mean_si(), 0.0085);
  const auto with_options = library_->FindTrialAnalysis("t-1", 1, other.options());
  ASSERT_TRUE(with_options.ok() && with_options->has_value());
  EXPECT_EQ((*with_options)->stride_m().mean_si(), 0.007);
  EXPECT_FALSE(library_->FindTrialAnalysis("t-1", 2, {})->has_value());
  EXPECT_FALSE(library_->FindTrialAnalysis("t-0", 1, {})->has_value());
}

TEST_P(TrialsContract, IsSoundWithTrials) {
  ASSERT_THAT(library_->InsertTrial(MakeTrial("t-1"), MakeBlocks()), test::IsOk());
  ASSERT_THAT(library_->PutTrialAnalysis(MakeAnalysis("t-1", 1, 0.008)), test::IsOk());
  EXPECT_THAT(library_->CheckIntegrity(), test::IsOk());
}

}  // namespace gaitshelf::service

#endif  // GAITSHELF_TESTS_SERVICE_LIBRARY_TRIALS_CONTRACT_H_
