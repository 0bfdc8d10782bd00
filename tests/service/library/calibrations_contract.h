// Contract tests: calibrations.
#ifndef GAITSHELF_TESTS_SERVICE_LIBRARY_CALIBRATIONS_CONTRACT_H_
#define GAITSHELF_TESTS_SERVICE_LIBRARY_CALIBRATIONS_CONTRACT_H_

#include <cstdint>
#include <limits>
#include <string>

#include "tests/service/library/library_contract.h"

namespace gaitshelf::service {

class CalibrationsContract : public LibraryContract {};

inline v1::Calibration MakeCalibration(const std::string& name, const std::string& digest) {
  v1::Calibration calibration;
  calibration.set_name(name);
  calibration.set_robot("weevil");
  calibration.set_surface("duct-steel");
  calibration.add_trials("t-1");
  calibration.mutable_calibrated_robot()->set_name("weevil");
  calibration.mutable_calibrated_robot()->set_title(digest);
  calibration.set_calibrated_robot_digest(digest);
  calibration.set_requester("bench");
  return calibration;
}

inline v1::Robot MakeNamedRobot(const std::string& title) {
  v1::Robot robot;
  robot.set_name("weevil");
  robot.set_title(title);
  return robot;
}

TEST_P(CalibrationsContract, KeepsACalibrationAndItsVersionBesideTheCurrentOne) {
  ASSERT_THAT(library_->PutRobot(MakeNamedRobot("first"), "d-1", "bench"), test::IsOk());
  const auto inserted = library_->InsertCalibration(MakeCalibration("c-1", "d-2"));
  ASSERT_THAT(inserted, test::IsOk());
  EXPECT_TRUE(inserted->is_new);
  EXPECT_TRUE(inserted->calibration.has_create_time());
  EXPECT_EQ(library_->GetRobot("weevil", "")->digest(), "d-1");
  EXPECT_EQ(library_->GetRobot("weevil", "d-2")->robot().title(), "d-2");
  Reopen();
  const auto found = library_->GetCalibration("c-1");
  ASSERT_THAT(found, test::IsOk());
  EXPECT_EQ(found->SerializeAsString(), inserted->calibration.SerializeAsString());
  const auto again = library_->InsertCalibration(MakeCalibration("c-1", "d-2"));
  ASSERT_THAT(again, test::IsOk());
  EXPECT_FALSE(again->is_new);
  EXPECT_EQ(again->calibration.SerializeAsString(), inserted->calibration.SerializeAsString());
  // What it found may become the current version; the other one stays.
  ASSERT_THAT(library_->PutRobot(MakeNamedRobot("accepted"), "d-2", "bench"), test::IsOk());
  EXPECT_EQ(library_->GetRobot("weevil", "")->digest(), "d-2");
  EXPECT_EQ(library_->GetRobot("weevil", "")->version(), 2);
  EXPECT_EQ(library_->GetRobot("weevil", "d-1")->robot().title(), "first");
}

TEST_P(CalibrationsContract, KeepsWhatWasFoundWhenTheLibraryIsTidied) {
  ASSERT_THAT(library_->PutRobot(MakeNamedRobot("first"), "d-1", "bench"), test::IsOk());
  ASSERT_THAT(library_->InsertCalibration(MakeCalibration("c-1", "d-2")), test::IsOk());
  const auto tidied =
      library_->CollectGarbage({.retired_before_us = std::numeric_limits<std::int64_t>::max()});
  ASSERT_THAT(tidied, test::IsOk());
  EXPECT_THAT(tidied->descriptions(), testing::IsEmpty());
  EXPECT_THAT(library_->GetRobot("weevil", "d-2"), test::IsOk());
}

TEST_P(CalibrationsContract, ListsNewestFirst) {
  ASSERT_THAT(library_->PutRobot(MakeNamedRobot("first"), "d-1", "bench"), test::IsOk());
  for (const char* name : {"c-1", "c-2", "c-3"}) {
    ASSERT_THAT(library_->InsertCalibration(MakeCalibration(name, name)), test::IsOk());
  }
  auto page = library_->ListCalibrations({.robot = "weevil"}, {.page_size = 2});
  ASSERT_THAT(page, test::IsOk());
  ASSERT_EQ(page->calibrations.size(), 2u);
  EXPECT_EQ(page->calibrations[0].name(), "c-3");
  page = library_->ListCalibrations({.robot = "weevil"}, {.page_token = page->next_page_token});
  ASSERT_EQ(page->calibrations.size(), 1u);
  EXPECT_EQ(page->calibrations[0].name(), "c-1");
  EXPECT_EQ(page->next_page_token, "");
  EXPECT_TRUE(library_->ListCalibrations({.surface = "liner-felt"}, {})->calibrations.empty());
  EXPECT_EQ(library_->ListCalibrations({.surface = "duct-steel"}, {})->calibrations.size(), 3u);
}

TEST_P(CalibrationsContract, NamesWhatIsWrong) {
  EXPECT_THAT(library_->GetCalibration("c-0"),
              test::HasStatus(absl::StatusCode::kNotFound, testing::HasSubstr("'c-0'")));
  EXPECT_THAT(library_->InsertCalibration(MakeCalibration("", "d-2")),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("name")));
  EXPECT_THAT(library_->InsertCalibration(MakeCalibration("c-1", "")),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("digest")));
  EXPECT_THAT(library_->GetCalibration("c-1"),
              test::HasStatus(absl::StatusCode::kNotFound, testing::_));
}

TEST_P(CalibrationsContract, GoesIntoTheLogOfChanges) {
  ASSERT_THAT(library_->InsertCalibration(MakeCalibration("c-1", "d-2")), test::IsOk());
  const auto changes = library_->ListChanges({});
  ASSERT_THAT(changes, test::IsOk());
  ASSERT_FALSE(changes->changes.empty());
  EXPECT_EQ(changes->changes[0].kind(), v1::CHANGE_KIND_STORE_CALIBRATION);
  EXPECT_EQ(changes->changes[0].subject(), "c-1");
  EXPECT_EQ(changes->changes[0].requester(), "bench");
}

}  // namespace gaitshelf::service

#endif  // GAITSHELF_TESTS_SERVICE_LIBRARY_CALIBRATIONS_CONTRACT_H_
