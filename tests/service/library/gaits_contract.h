// Contract tests: gaits.
#ifndef GAITSHELF_TESTS_SERVICE_LIBRARY_GAITS_CONTRACT_H_
#define GAITSHELF_TESTS_SERVICE_LIBRARY_GAITS_CONTRACT_H_

#include <memory>
#include <string>
#include <vector>

#include "tests/service/library/library_contract.h"

namespace gaitshelf::service {

class GaitsContract : public LibraryContract {};

TEST_P(GaitsContract, NamesAGaitThatIsNotThere) {
  const auto is_not_there =
      test::HasStatus(absl::StatusCode::kNotFound, testing::HasSubstr("'g-0'"));
  EXPECT_THAT(library_->GetGaitBytes("g-0"), is_not_there);
  EXPECT_THAT(library_->GetGaitSummary("g-0"), is_not_there);
}

TEST_P(GaitsContract, RefusesAGaitWithoutNameOrKey) {
  EXPECT_THAT(library_->InsertGait(v1::Gait(), "key"),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("name")));
  EXPECT_THAT(library_->InsertGait(MakeStoredGait("g-1", v1::VERDICT_GOOD, 2.0), ""),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("key")));
}

TEST_P(GaitsContract, SummarizesWhatWasStored) {
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-1", v1::VERDICT_GOOD, 2.0), "key"),
              test::IsOk());
  const auto summary = library_->GetGaitSummary("g-1");
  ASSERT_THAT(summary, test::IsOk());
  EXPECT_EQ(summary->robot(), "weevil");
  EXPECT_EQ(summary->verdict(), v1::VERDICT_GOOD);
  EXPECT_EQ(summary->replayed_advance_m(), 0.0088);
  EXPECT_FALSE(summary->is_superseded());
}

TEST_P(GaitsContract, AGaitOfSeveralSurfacesIsSupersededWithAnyOfThem) {
  v1::Surface felt;
  felt.set_name("felt");
  ASSERT_THAT(library_->PutSurface(felt, "felt-1", "ada"), test::IsOk());
  v1::Gait gait = MakeStoredGait("g-1", v1::VERDICT_GOOD, 2.0);
  *gait.add_also_on() = MakeSurfaceVersion("felt", "felt-1");
  *gait.add_also_on() = MakeSurfaceVersion("never-stored", "tape-1");
  ASSERT_THAT(library_->InsertGait(gait, "key"), test::IsOk());
  EXPECT_FALSE(library_->GetGaitSummary("g-1")->is_superseded());
  EXPECT_THAT(library_->GetGaitSummary("g-1")->also_on(),
              testing::ElementsAre("felt", "never-stored"));
  felt.set_friction_coefficient(0.5);
  ASSERT_THAT(library_->PutSurface(felt, "felt-2", "ada"), test::IsOk());
  EXPECT_TRUE(library_->GetGaitSummary("g-1")->is_superseded());
  EXPECT_TRUE(library_->FindBestGait("key")->is_superseded());
  // A new verdict finds the surfaces there.
  gait.mutable_audit()->set_verdict(v1::VERDICT_FAILED);
  EXPECT_THAT(library_->InsertGait(gait, "key"), test::IsOk());
}

TEST_P(GaitsContract, StoringTheSameGaitAgainChangesNothing) {
  v1::Gait gait = MakeStoredGait("g-1", v1::VERDICT_GOOD, 2.0);
  ASSERT_THAT(library_->InsertGait(gait, "key"), test::IsOk());
  const std::string first = **library_->GetGaitBytes("g-1");
  gait.mutable_provenance()->set_requester("somebody else");
  ASSERT_THAT(library_->InsertGait(gait, "key"), test::IsOk());
  EXPECT_EQ(**library_->GetGaitBytes("g-1"), first);
  EXPECT_EQ(library_->ListGaits({}, {})->gaits.size(), 1U);
}

TEST_P(GaitsContract, ANewVerdictTakesThePlaceOfTheOldOne) {
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-1", v1::VERDICT_FAILED, 2.0), "key"),
              test::IsOk());
  EXPECT_TRUE(absl::IsNotFound(library_->FindBestGait("key").status()));
  const v1::Gait good = MakeStoredGait("g-1", v1::VERDICT_GOOD, 2.0);
  ASSERT_THAT(library_->InsertGait(good, "key"), test::IsOk());
  EXPECT_EQ(library_->FindBestGait("key")->name(), "g-1");
  EXPECT_EQ(**library_->GetGaitBytes("g-1"), good.SerializeAsString());
  EXPECT_EQ(library_->ListGaits({}, {})->gaits.size(), 1U);
}

TEST_P(GaitsContract, AGaitWithoutAnAuditDoesNotTakeThePlaceOfAnAuditedOne) {
  const v1::Gait good = MakeStoredGait("g-1", v1::VERDICT_GOOD, 2.0);
  ASSERT_THAT(library_->InsertGait(good, "key"), test::IsOk());
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-1", v1::VERDICT_UNSPECIFIED, 2.0), "key"),
              test::IsOk());
  EXPECT_EQ(library_->GetGaitSummary("g-1")->verdict(), v1::VERDICT_GOOD);
  EXPECT_EQ(**library_->GetGaitBytes("g-1"), good.SerializeAsString());
}

TEST_P(GaitsContract, FindsTheCheapestGoodGaitOfAKey) {
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-1", v1::VERDICT_GOOD, 3.0), "key"),
              test::IsOk());
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-2", v1::VERDICT_GOOD, 2.0), "key"),
              test::IsOk());
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-3", v1::VERDICT_FAILED, 1.0), "key"),
              test::IsOk());
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-4", v1::VERDICT_GOOD, 1.0), "another key"),
              test::IsOk());
  EXPECT_EQ(library_->FindBestGait("key")->name(), "g-2");
}

TEST_P(GaitsContract, NeverServesAGaitWithoutGoodAudit) {
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-1", v1::VERDICT_FAILED, 1.0), "key"),
              test::IsOk());
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-2", v1::VERDICT_UNSPECIFIED, 1.0), "key"),
              test::IsOk());
  EXPECT_THAT(library_->FindBestGait("key"),
              test::HasStatus(absl::StatusCode::kNotFound, testing::HasSubstr("no good gait")));
  EXPECT_THAT(library_->GetGaitBytes("g-1"), test::IsOk());
}

TEST_P(GaitsContract, MarksGaitsOfOldVersionsAsSuperseded) {
  v1::Robot robot;
  robot.set_name("weevil");
  ASSERT_THAT(library_->PutRobot(robot, "robot-digest-1", "ada"), test::IsOk());
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0), "key"),
              test::IsOk());
  EXPECT_FALSE(library_->GetGaitSummary("g-1")->is_superseded());
  ASSERT_THAT(library_->PutRobot(robot, "robot-digest-2", "ada"), test::IsOk());
  EXPECT_TRUE(library_->GetGaitSummary("g-1")->is_superseded());
  EXPECT_TRUE(library_->ListGaits({}, {})->gaits[0].is_superseded());

  ASSERT_THAT(library_->PutRobot(robot, "robot-digest-1", "ada"), test::IsOk());
  v1::Surface surface;
  surface.set_name("duct-steel");
  ASSERT_THAT(library_->PutSurface(surface, "surface-digest-2", "ada"), test::IsOk());
  EXPECT_TRUE(library_->GetGaitSummary("g-1")->is_superseded());
}

std::vector<std::string> inline NamesOf(const GaitPage& page) {
  std::vector<std::string> names;
  for (const v1::GaitSummary& gait : page.gaits) {
    names.push_back(gait.name());
  }
  return names;
}

TEST_P(GaitsContract, ListsNewestFirstPageByPage) {
  for (const char* name : {"g-1", "g-2", "g-3", "g-4", "g-5"}) {
    ASSERT_THAT(library_->InsertGait(MakeStoredGait(name, v1::VERDICT_GOOD, 1.0), "key"),
                test::IsOk());
  }
  const auto first = library_->ListGaits({}, {.page_size = 2});
  ASSERT_THAT(first, test::IsOk());
  EXPECT_THAT(NamesOf(*first), testing::ElementsAre("g-5", "g-4"));
  // What comes in between does not move the pages.
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-6", v1::VERDICT_GOOD, 1.0), "key"),
              test::IsOk());
  const auto second =
      library_->ListGaits({}, {.page_size = 2, .page_token = first->next_page_token});
  EXPECT_THAT(NamesOf(*second), testing::ElementsAre("g-3", "g-2"));
  const auto third =
      library_->ListGaits({}, {.page_size = 2, .page_token = second->next_page_token});
  EXPECT_THAT(NamesOf(*third), testing::ElementsAre("g-1"));
  EXPECT_EQ(third->next_page_token, "");
}

TEST_P(GaitsContract, FiltersByRobotSurfaceAndVerdict) {
  v1::Gait other = MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0);
  other.set_robot("earwig");
  other.set_surface("grit-tape");
  ASSERT_THAT(library_->InsertGait(other, "key"), test::IsOk());
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-2", v1::VERDICT_GOOD, 1.0), "key"),
              test::IsOk());
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-3", v1::VERDICT_FAILED, 1.0), "key"),
              test::IsOk());
  EXPECT_THAT(NamesOf(*library_->ListGaits({.robot = "earwig"}, {})), testing::ElementsAre("g-1"));
  EXPECT_THAT(NamesOf(*library_->ListGaits({.surface = "duct-steel"}, {})),
              testing::ElementsAre("g-3", "g-2"));
  EXPECT_THAT(NamesOf(*library_->ListGaits({.only_good = true}, {})),
              testing::ElementsAre("g-2", "g-1"));
}

TEST_P(GaitsContract, RefusesPagesThatMakeNoSense) {
  EXPECT_THAT(library_->ListGaits({}, {.page_size = -1}),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("-1")));
  EXPECT_THAT(library_->ListGaits({}, {.page_size = 1001}),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("1001")));
  EXPECT_THAT(library_->ListGaits({}, {.page_token = "five"}),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("'five'")));
  EXPECT_THAT(library_->ListGaits({}, {.page_token = "-5"}),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("'-5'")));
}

TEST_P(GaitsContract, SeesWhatAnotherProcessStores) {
  const std::unique_ptr<Library> other = OpenSecond();
  ASSERT_THAT(other->InsertGait(MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0), "key"), test::IsOk());
  EXPECT_EQ(library_->FindBestGait("key")->name(), "g-1");
}

TEST_P(GaitsContract, IsSoundAfterUse) {
  ASSERT_THAT(library_->InsertGait(MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0), "key"),
              test::IsOk());
  StartJob(library_.get(), "key");
  EXPECT_THAT(library_->CheckIntegrity(), test::IsOk());
}

}  // namespace gaitshelf::service

#endif  // GAITSHELF_TESTS_SERVICE_LIBRARY_GAITS_CONTRACT_H_
