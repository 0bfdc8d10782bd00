// Contract tests: the log of changes, retirement, bundles, garbage.
#ifndef GAITSHELF_TESTS_SERVICE_LIBRARY_CARE_CONTRACT_H_
#define GAITSHELF_TESTS_SERVICE_LIBRARY_CARE_CONTRACT_H_

#include <cstddef>
#include <cstdint>
#include <limits>
#include <string>
#include <utility>
#include <vector>

#include "tests/service/library/library_contract.h"

namespace gaitshelf::service {

class CareContract : public LibraryContract {
 protected:
  void PutRobot(const std::string& digest) {
    v1::Robot robot;
    robot.set_name("weevil");
    robot.set_title(digest);
    ASSERT_THAT(library_->PutRobot(robot, digest, "ada"), test::IsOk());
  }
  void InsertGait(const std::string& name) {
    ASSERT_THAT(library_->InsertGait(MakeStoredGait(name, v1::VERDICT_GOOD, 1.0), "key"),
                test::IsOk());
  }
  // "kind requester subject" of every change, the oldest first.
  std::vector<std::string> Changes() {
    std::vector<std::string> lines;
    const auto page = library_->ListChanges({});
    EXPECT_THAT(page, test::IsOk());
    for (auto change = page->changes.rbegin(); change != page->changes.rend(); ++change) {
      lines.push_back(absl::StrCat(
          v1::ChangeKind_Name(change->kind()), " ", change->requester(), " ", change->subject()));
    }
    return lines;
  }
  absl::StatusOr<v1::ImportBundleResponse> Import(const std::vector<BundleItem>& items,
                                                  const absl::Status& end = absl::OkStatus()) {
    std::size_t next = 0;
    return library_->ImportBundle(
        [&]() -> absl::StatusOr<std::optional<BundleItem>> {
          if (next < items.size()) {
            return std::optional<BundleItem>(items[next++]);
          }
          return end.ok() ? absl::StatusOr<std::optional<BundleItem>>(std::nullopt) : end;
        },
        "bob");
  }
};

inline BundleItem RobotItem(const std::string& digest) {
  BundleItem item;
  item.robot.emplace().set_name("weevil");
  item.digest = digest;
  return item;
}

inline BundleItem GaitItem(const std::string& name) {
  BundleItem item;
  item.gait = MakeStoredGait(name, v1::VERDICT_GOOD, 1.0);
  item.key = "key";
  return item;
}

TEST_P(CareContract, LogsWhoChangedWhat) {
  PutRobot("robot-digest-1");
  PutRobot("robot-digest-1");  // changes nothing
  v1::Surface surface;
  surface.set_name("duct-steel");
  ASSERT_THAT(library_->PutSurface(surface, "surface-digest-1", "bob"), test::IsOk());
  const auto ordered = library_->OrderJob(MakeJobOrder("key"));
  ASSERT_THAT(ordered, test::IsOk());
  ASSERT_THAT(library_->OrderJob(MakeJobOrder("key")), test::IsOk());  // joins
  const std::string job = ordered->job.name();
  ASSERT_THAT(library_->RequestCancel(job, "bob"), test::IsOk());
  InsertGait("g-1");
  InsertGait("g-1");  // is there
  EXPECT_THAT(Changes(),
              testing::ElementsAre("CHANGE_KIND_PUT_ROBOT ada weevil",
                                   "CHANGE_KIND_PUT_SURFACE bob duct-steel",
                                   "CHANGE_KIND_ORDER_JOB bench " + job,
                                   "CHANGE_KIND_CANCEL_JOB bob " + job,
                                   "CHANGE_KIND_STORE_GAIT bench g-1"));
}

TEST_P(CareContract, ListsChangesPageByPage) {
  for (const char* name : {"g-1", "g-2", "g-3"}) {
    InsertGait(name);
  }
  const auto first = library_->ListChanges({.page_size = 2});
  ASSERT_THAT(first, test::IsOk());
  ASSERT_EQ(first->changes.size(), 2U);
  EXPECT_EQ(first->changes[0].subject(), "g-3");
  EXPECT_GT(first->changes[0].number(), first->changes[1].number());
  const auto second = library_->ListChanges({.page_size = 2, .page_token = first->next_page_token});
  ASSERT_THAT(second, test::IsOk());
  ASSERT_EQ(second->changes.size(), 1U);
  EXPECT_EQ(second->changes[0].subject(), "g-1");
  EXPECT_EQ(second->next_page_token, "");
  EXPECT_THAT(library_->ListChanges({.page_size = -1}),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("-1")));
}

TEST_P(CareContract, ARetiredGaitIsOnlyReadByItsName) {
  InsertGait("g-1");
  ASSERT_THAT(library_->RetireGait({.gait = "g-1", .reason = "broke a leg", .requester = "ada"}),
              test::IsOk());
  EXPECT_TRUE(absl::IsNotFound(library_->FindBestGait("key").status()));
  EXPECT_EQ(library_->ListGaits({}, {})->gaits.size(), 0U);
  EXPECT_THAT(library_->GetGaitBytes("g-1"), test::IsOk());
  Reopen();
  const auto retired = library_->ListRetiredGaits();
  ASSERT_THAT(retired, test::IsOk());
  ASSERT_EQ(retired->size(), 1U);
  EXPECT_EQ((*retired)[0].name(), "g-1");
  EXPECT_EQ((*retired)[0].reason(), "broke a leg");
  EXPECT_EQ((*retired)[0].requester(), "ada");
  EXPECT_GT((*retired)[0].retire_time().seconds(), 0);
}

TEST_P(CareContract, AReinstatedGaitServesAgain) {
  InsertGait("g-1");
  ASSERT_THAT(library_->RetireGait({.gait = "g-1", .reason = "hasty", .requester = "ada"}),
              test::IsOk());
  ASSERT_THAT(library_->ReinstateGait("g-1", "bob"), test::IsOk());
  ASSERT_THAT(library_->ReinstateGait("g-1", "bob"), test::IsOk());
  EXPECT_EQ(library_->FindBestGait("key")->name(), "g-1");
  EXPECT_THAT(Changes(),
              testing::ElementsAre("CHANGE_KIND_STORE_GAIT bench g-1",
                                   "CHANGE_KIND_RETIRE_GAIT ada g-1",
                                   "CHANGE_KIND_REINSTATE_GAIT bob g-1"));
}

TEST_P(CareContract, NamesAGaitThatCannotBeRetired) {
  const auto is_not_there =
      test::HasStatus(absl::StatusCode::kNotFound, testing::HasSubstr("'g-0'"));
  EXPECT_THAT(library_->RetireGait({.gait = "g-0", .reason = "x", .requester = "ada"}),
              is_not_there);
  EXPECT_THAT(library_->ReinstateGait("g-0", "ada"), is_not_there);
  EXPECT_THAT(Changes(), testing::IsEmpty());
}

TEST_P(CareContract, TakesABundleInOnce) {
  const std::vector<BundleItem> items = {
      RobotItem("robot-digest-1"), GaitItem("g-1"), GaitItem("g-2")};
  const auto first = Import(items);
  ASSERT_THAT(first, test::IsOk());
  EXPECT_EQ(first->new_gait_count(), 2);
  EXPECT_EQ(first->new_description_count(), 1);
  const auto second = Import(items);
  ASSERT_THAT(second, test::IsOk());
  EXPECT_EQ(second->new_gait_count(), 0);
  EXPECT_EQ(second->known_gait_count(), 2);
  EXPECT_EQ(second->known_description_count(), 1);
  EXPECT_EQ(**library_->GetGaitBytes("g-2"), items[2].gait->SerializeAsString());
  EXPECT_THAT(Changes(), testing::ElementsAre("CHANGE_KIND_IMPORT_BUNDLE bob "));
}

TEST_P(CareContract, TakesNothingOfABundleThatFails) {
  EXPECT_THAT(Import({RobotItem("robot-digest-1"), GaitItem("g-1")}, absl::DataLossError("torn")),
              test::HasStatus(absl::StatusCode::kDataLoss, testing::HasSubstr("torn")));
  EXPECT_TRUE(absl::IsNotFound(library_->GetRobot("weevil", "").status()));
  EXPECT_TRUE(absl::IsNotFound(library_->GetGaitBytes("g-1").status()));
  EXPECT_THAT(Changes(), testing::IsEmpty());
  EXPECT_THAT(Import({BundleItem()}),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("holds")));
}

TEST_P(CareContract, ABundleDoesNotChangeTheCurrentVersion) {
  PutRobot("mine");
  ASSERT_THAT(Import({RobotItem("theirs"), RobotItem("theirs-too")}), test::IsOk());
  EXPECT_EQ(library_->GetRobot("weevil", "")->digest(), "mine");
  EXPECT_EQ(library_->GetRobot("weevil", "theirs")->version(), 0);
  EXPECT_EQ(library_->GetRobot("weevil", "theirs-too")->version(), -1);
  // Whoever wants it as the current one says so.
  PutRobot("theirs");
  EXPECT_EQ(library_->GetRobot("weevil", "")->version(), 2);
}

TEST_P(CareContract, CollectsWhatNothingRefersTo) {
  PutRobot("unused");
  PutRobot("robot-digest-1");  // the gaits'
  InsertGait("g-1");
  InsertGait("g-2");
  PutRobot("ordered");
  JobOrder order = MakeJobOrder("another key");
  order.robot_digest = "ordered";
  ASSERT_THAT(library_->OrderJob(order), test::IsOk());
  PutRobot("current");
  ASSERT_THAT(library_->RetireGait({.gait = "g-2", .reason = "old", .requester = "ada"}),
              test::IsOk());
  const GarbageOptions all{.retired_before_us = std::numeric_limits<std::int64_t>::max(),
                           .requester = "bob"};
  GarbageOptions dry = all;
  dry.is_dry_run = true;
  for (const GarbageOptions& options : {dry, all}) {
    const auto result = library_->CollectGarbage(options);
    ASSERT_THAT(result, test::IsOk());
    EXPECT_THAT(result->gaits(), testing::ElementsAre("g-2"));
    EXPECT_THAT(result->descriptions(), testing::ElementsAre("robot weevil version 1"));
    EXPECT_EQ(library_->GetGaitBytes("g-2").ok(), options.is_dry_run);
  }
  EXPECT_THAT(library_->GetGaitBytes("g-1"), test::IsOk());
  EXPECT_THAT(library_->GetRobot("weevil", "robot-digest-1"), test::IsOk());
  EXPECT_THAT(library_->GetRobot("weevil", "ordered"), test::IsOk());
  EXPECT_THAT(library_->CollectGarbage(all)->gaits(), testing::IsEmpty());
  EXPECT_EQ(Changes().back(), "CHANGE_KIND_COLLECT_GARBAGE bob ");
  EXPECT_THAT(library_->CheckIntegrity(), test::IsOk());
}

TEST_P(CareContract, KeepsTheFurtherSurfacesOfGaitsAndOpenJobs) {
  v1::Surface felt;
  felt.set_name("felt");
  for (const char* digest : {"unused", "of a gait", "ordered", "current"}) {
    felt.set_friction_coefficient(felt.friction_coefficient() + 0.1);
    ASSERT_THAT(library_->PutSurface(felt, digest, "ada"), test::IsOk());
  }
  v1::Gait gait = MakeStoredGait("g-1", v1::VERDICT_GOOD, 2.0);
  *gait.add_also_on() = MakeSurfaceVersion("felt", "of a gait");
  ASSERT_THAT(library_->InsertGait(gait, "key"), test::IsOk());
  JobOrder order = MakeJobOrder("another key");
  order.also_on = {MakeSurfaceVersion("felt", "ordered")};
  ASSERT_THAT(library_->OrderJob(order), test::IsOk());
  const GarbageOptions all{.retired_before_us = std::numeric_limits<std::int64_t>::max()};
  EXPECT_THAT(library_->CollectGarbage(all)->descriptions(),
              testing::ElementsAre("surface felt version 1"));
  ASSERT_THAT(library_->RetireGait({.gait = "g-1", .reason = "old", .requester = "ada"}),
              test::IsOk());
  const auto result = library_->CollectGarbage(all);
  ASSERT_THAT(result, test::IsOk());
  EXPECT_THAT(result->gaits(), testing::ElementsAre("g-1"));
  EXPECT_THAT(result->descriptions(), testing::ElementsAre("surface felt version 2"));
  EXPECT_THAT(library_->CheckIntegrity(), test::IsOk());
}

TEST_P(CareContract, KeepsGaitsThatWereRetiredLately) {
  InsertGait("g-1");
  ASSERT_THAT(library_->RetireGait({.gait = "g-1", .reason = "old", .requester = "ada"}),
              test::IsOk());
  const auto result = library_->CollectGarbage({.retired_before_us = 1'000'000});
  ASSERT_THAT(result, test::IsOk());
  EXPECT_THAT(result->gaits(), testing::IsEmpty());
}

TEST_P(CareContract, RetiringAgainChangesTheReasonAndNotTheTime) {
  InsertGait("g-1");
  ASSERT_THAT(library_->RetireGait({.gait = "g-1", .reason = "old", .requester = "ada"}),
              test::IsOk());
  const auto first = library_->ListRetiredGaits();
  ASSERT_THAT(library_->RetireGait({.gait = "g-1", .reason = "broke a leg", .requester = "bob"}),
              test::IsOk());
  const auto second = library_->ListRetiredGaits();
  ASSERT_THAT(second, test::IsOk());
  ASSERT_EQ(second->size(), 1U);
  EXPECT_EQ((*second)[0].reason(), "broke a leg");
  EXPECT_EQ((*second)[0].requester(), "bob");
  EXPECT_EQ((*second)[0].retire_time().SerializeAsString(),
            (*first)[0].retire_time().SerializeAsString());
}

TEST_P(CareContract, KeepsWhatTrialsWereMadeWith) {
  PutRobot("measured");
  PutRobot("current");
  InsertGait("g-1");
  ASSERT_THAT(library_->RetireGait({.gait = "g-1", .reason = "old", .requester = "ada"}),
              test::IsOk());
  v1::Trial trial;
  trial.set_name("t-1");
  trial.set_gait("g-1");
  trial.set_robot("weevil");
  trial.set_robot_digest("measured");
  trial.set_requester("cleo");
  ASSERT_THAT(library_->InsertTrial(trial, {}), test::IsOk());
  EXPECT_EQ(Changes().back(), "CHANGE_KIND_STORE_TRIAL cleo t-1");
  const auto result =
      library_->CollectGarbage({.retired_before_us = std::numeric_limits<std::int64_t>::max()});
  ASSERT_THAT(result, test::IsOk());
  EXPECT_THAT(result->gaits(), testing::IsEmpty());
  EXPECT_THAT(result->descriptions(), testing::IsEmpty());
}

TEST_P(CareContract, CountsWhatIsThere) {
  InsertGait("g-1");
  InsertGait("g-1");
  InsertGait("g-2");
  InsertGait("g-3");
  ASSERT_THAT(library_->RetireGait({.gait = "g-2", .reason = "worn", .requester = "ada"}),
              test::IsOk());
  EXPECT_EQ(library_->Count()->gaits, 3);
  const std::int64_t later_us = std::numeric_limits<std::int64_t>::max();
  ASSERT_THAT(library_->CollectGarbage({.retired_before_us = later_us, .is_dry_run = true}),
              test::IsOk());
  EXPECT_EQ(library_->Count()->gaits, 3);
  ASSERT_THAT(library_->CollectGarbage({.retired_before_us = later_us}), test::IsOk());
  EXPECT_EQ(library_->Count()->gaits, 2);
  ASSERT_THAT(Import({GaitItem("g-1"), GaitItem("g-4"), GaitItem("g-5")}), test::IsOk());
  StartJob(library_.get(), "key");
  ASSERT_THAT(library_->OrderJob(MakeJobOrder("another key")), test::IsOk());
  const auto counts = library_->Count();
  ASSERT_THAT(counts, test::IsOk());
  EXPECT_EQ(counts->gaits, 4);
  EXPECT_EQ(counts->trials, 0);
  EXPECT_EQ(counts->running_jobs, 1);
  EXPECT_EQ(counts->queued_jobs, 1);
  EXPECT_EQ(counts->queue_limit, 1000);
}

}  // namespace gaitshelf::service

#endif  // GAITSHELF_TESTS_SERVICE_LIBRARY_CARE_CONTRACT_H_
