// Contract tests: robots and surfaces.
#ifndef GAITSHELF_TESTS_SERVICE_LIBRARY_DESCRIPTIONS_CONTRACT_H_
#define GAITSHELF_TESTS_SERVICE_LIBRARY_DESCRIPTIONS_CONTRACT_H_

#include "tests/service/library/library_contract.h"

namespace gaitshelf::service {

class DescriptionsContract : public LibraryContract {};

inline v1::Robot MakeNamedRobot(const std::string& name, double mass_kg) {
  v1::Robot robot;
  robot.set_name(name);
  robot.set_title("a test robot");
  robot.mutable_body()->set_mass_kg(mass_kg);
  return robot;
}

TEST_P(DescriptionsContract, NumbersVersionsFromOneByDigest) {
  const auto first = library_->PutRobot(MakeNamedRobot("weevil", 1e-3), "digest-a", "ada");
  ASSERT_THAT(first, test::IsOk());
  EXPECT_TRUE(first->is_new_version);
  EXPECT_EQ(first->stored.version(), 1);
  EXPECT_GT(first->stored.create_time().seconds(), 1'000'000'000);

  const auto again = library_->PutRobot(MakeNamedRobot("weevil", 1e-3), "digest-a", "ada");
  ASSERT_THAT(again, test::IsOk());
  EXPECT_FALSE(again->is_new_version);
  EXPECT_EQ(again->stored.SerializeAsString(), first->stored.SerializeAsString());

  const auto second = library_->PutRobot(MakeNamedRobot("weevil", 2e-3), "digest-b", "ada");
  ASSERT_THAT(second, test::IsOk());
  EXPECT_TRUE(second->is_new_version);
  EXPECT_EQ(second->stored.version(), 2);
}

TEST_P(DescriptionsContract, KeepsLegTablesByTheDigestOfTheirRobot) {
  v1::LegTables tables;
  tables.set_form(1);
  tables.add_tables()->set_mass_kg(2e-5);
  EXPECT_THAT(library_->GetLegTables("digest-a"),
              test::HasStatus(absl::StatusCode::kNotFound, testing::HasSubstr("digest-a")));
  ASSERT_THAT(library_->PutLegTables("digest-a", tables), test::IsOk());
  tables.set_form(2);
  ASSERT_THAT(library_->PutLegTables("digest-a", tables), test::IsOk());
  ASSERT_THAT(library_->PutLegTables("digest-b", v1::LegTables()), test::IsOk());
  Reopen();
  const auto kept = library_->GetLegTables("digest-a");
  ASSERT_THAT(kept, test::IsOk());
  EXPECT_EQ(kept->SerializeAsString(), tables.SerializeAsString());
  EXPECT_THAT(library_->PutLegTables("", tables),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("digest")));
}

TEST_P(DescriptionsContract, ReturnsCurrentVersionAndVersionByDigest) {
  ASSERT_THAT(library_->PutRobot(MakeNamedRobot("weevil", 1e-3), "digest-a", "ada"), test::IsOk());
  ASSERT_THAT(library_->PutRobot(MakeNamedRobot("weevil", 2e-3), "digest-b", "ada"), test::IsOk());
  Reopen();
  const auto current = library_->GetRobot("weevil", "");
  ASSERT_THAT(current, test::IsOk());
  EXPECT_EQ(current->digest(), "digest-b");
  EXPECT_EQ(current->robot().body().mass_kg(), 2e-3);
  const auto old = library_->GetRobot("weevil", "digest-a");
  ASSERT_THAT(old, test::IsOk());
  EXPECT_EQ(old->version(), 1);
  EXPECT_EQ(old->robot().body().mass_kg(), 1e-3);
}

TEST_P(DescriptionsContract, GoesBackToAnOldDescriptionAsANewVersion) {
  ASSERT_THAT(library_->PutRobot(MakeNamedRobot("weevil", 1e-3), "digest-a", "ada"), test::IsOk());
  ASSERT_THAT(library_->PutRobot(MakeNamedRobot("weevil", 2e-3), "digest-b", "ada"), test::IsOk());
  const auto back = library_->PutRobot(MakeNamedRobot("weevil", 1e-3), "digest-a", "ada");
  ASSERT_THAT(back, test::IsOk());
  EXPECT_EQ(back->stored.version(), 3);
  EXPECT_EQ(library_->GetRobot("weevil", "digest-a")->version(), 3);
}

TEST_P(DescriptionsContract, BringsTitleUpToDateWithoutNewVersion) {
  v1::Robot robot = MakeNamedRobot("weevil", 1e-3);
  ASSERT_THAT(library_->PutRobot(robot, "digest-a", "ada"), test::IsOk());
  robot.set_title("a better title");
  const auto again = library_->PutRobot(robot, "digest-a", "ada");
  ASSERT_THAT(again, test::IsOk());
  EXPECT_FALSE(again->is_new_version);
  EXPECT_EQ(library_->GetRobot("weevil", "")->robot().title(), "a better title");
  EXPECT_EQ(library_->GetRobot("weevil", "")->version(), 1);
}

TEST_P(DescriptionsContract, NamesWhatIsNotThere) {
  EXPECT_THAT(library_->GetRobot("wevil", ""),
              test::HasStatus(absl::StatusCode::kNotFound, testing::HasSubstr("robot 'wevil'")));
  ASSERT_THAT(library_->PutRobot(MakeNamedRobot("weevil", 1e-3), "digest-a", "ada"), test::IsOk());
  EXPECT_THAT(library_->GetRobot("weevil", "digest-z"),
              test::HasStatus(absl::StatusCode::kNotFound, testing::HasSubstr("digest-z")));
  EXPECT_THAT(library_->GetSurface("weevil", ""),
              test::HasStatus(absl::StatusCode::kNotFound, testing::HasSubstr("surface 'weevil'")));
}

TEST_P(DescriptionsContract, RefusesADescriptionWithoutNameOrDigest) {
  EXPECT_THAT(library_->PutRobot(v1::Robot(), "digest-a", "ada"),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("robot")));
  EXPECT_THAT(library_->PutRobot(MakeNamedRobot("weevil", 1e-3), "", "ada"),
              test::HasStatus(absl::StatusCode::kInvalidArgument, testing::HasSubstr("digest")));
}

TEST_P(DescriptionsContract, ListsCurrentVersionsByName) {
  ASSERT_THAT(library_->PutRobot(MakeNamedRobot("weevil", 1e-3), "digest-a", "ada"), test::IsOk());
  ASSERT_THAT(library_->PutRobot(MakeNamedRobot("earwig", 3e-3), "digest-c", "ada"), test::IsOk());
  ASSERT_THAT(library_->PutRobot(MakeNamedRobot("weevil", 2e-3), "digest-b", "ada"), test::IsOk());
  const auto robots = library_->ListRobots();
  ASSERT_THAT(robots, test::IsOk());
  ASSERT_EQ(robots->size(), 2U);
  EXPECT_EQ((*robots)[0].robot().name(), "earwig");
  EXPECT_EQ((*robots)[1].robot().name(), "weevil");
  EXPECT_EQ((*robots)[1].version(), 2);
  EXPECT_TRUE(library_->ListSurfaces()->empty());
}

TEST_P(DescriptionsContract, KeepsSurfacesApartFromRobots) {
  v1::Surface surface;
  surface.set_name("weevil");
  surface.set_friction_coefficient(0.18);
  ASSERT_THAT(library_->PutSurface(surface, "digest-s", "ada"), test::IsOk());
  ASSERT_THAT(library_->PutRobot(MakeNamedRobot("weevil", 1e-3), "digest-a", "ada"), test::IsOk());
  EXPECT_EQ(library_->GetSurface("weevil", "")->surface().friction_coefficient(), 0.18);
  EXPECT_EQ(library_->GetSurface("weevil", "")->version(), 1);
  EXPECT_EQ(library_->GetRobot("weevil", "")->digest(), "digest-a");
  ASSERT_EQ(library_->ListSurfaces()->size(), 1U);
}

}  // namespace gaitshelf::service

#endif  // GAITSHELF_TESTS_SERVICE_LIBRARY_DESCRIPTIONS_CONTRACT_H_
