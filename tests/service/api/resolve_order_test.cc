#include "service/api/resolve_order.h"

#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "service/api/status.h"
#include "tests/service/api/served_library.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using test::HasStatus;
using testing::Contains;
using testing::HasSubstr;

using ResolveOrderTest = test::ServedLibrary;

TEST_F(ResolveOrderTest, GivesTheKeyOfTheCurrentVersions) {
  StoreDescriptions();
  const JobOrder order = ResolveOrder(library_.get(), MakeOrder()).value();
  EXPECT_EQ(order.robot_digest, solver::RobotDigest(robot_));
  EXPECT_EQ(order.surface_digest, solver::SurfaceDigest(surface_));
  EXPECT_EQ(order.key, solver::OrderKey(order.robot_digest, order.surface_digest, MakeOrder()));
  robot_.mutable_body()->set_mass_kg(2e-3);
  StoreDescriptions();
  EXPECT_NE(ResolveOrder(library_.get(), MakeOrder())->key, order.key);
}

class SeveralSurfacesTest : public test::ServedLibrary {
 protected:
  void SetUp() override {
    ServedLibrary::SetUp();
    StoreDescriptions();  // the bench has a friction of 0.5
    StoreSurface("felt", 0.75);
    StoreSurface("steel", 0.25);
  }

  std::string StoreSurface(const std::string& name, double friction) {
    v1::Surface surface = test::MakeSurface(friction);
    surface.set_name(name);
    const std::string digest = solver::SurfaceDigest(surface);
    EXPECT_TRUE(library_->PutSurface(surface, digest, "ada").ok());
    return digest;
  }

  v1::GaitOrder OrderOn(const std::string& first, const std::vector<std::string>& further) {
    v1::GaitOrder order = MakeOrder();
    order.set_surface(first);
    order.mutable_also_on()->Assign(further.begin(), further.end());
    return order;
  }
};

TEST_F(SeveralSurfacesTest, MakeOneKeyWhicheverIsNamedFirst) {
  const JobOrder order = ResolveOrder(library_.get(), OrderOn("bench", {"steel", "felt"})).value();
  EXPECT_EQ(order.order.surface(), "steel") << "the one of least friction comes first";
  EXPECT_EQ(order.surface_digest, library_->GetSurface("steel", "")->digest());
  EXPECT_THAT(order.order.also_on(), testing::ElementsAre("bench", "felt"));
  ASSERT_EQ(order.also_on.size(), 2U);
  EXPECT_EQ(order.also_on[1].surface(), "felt");
  EXPECT_EQ(order.also_on[1].digest(), library_->GetSurface("felt", "")->digest());
  EXPECT_EQ(ResolveOrder(library_.get(), OrderOn("felt", {"bench", "steel"}))->key, order.key);
  EXPECT_NE(ResolveOrder(library_.get(), OrderOn("felt", {"steel"}))->key, order.key);
  EXPECT_NE(ResolveOrder(library_.get(), OrderOn("steel", {}))->key, order.key);
}

TEST_F(SeveralSurfacesTest, AreRefusedWithTheNameOfTheField) {
  v1::Surface slope = test::MakeSurface(0.75);
  slope.set_name("slope");
  slope.set_slope_rad(0.1);
  ASSERT_TRUE(library_->PutSurface(slope, solver::SurfaceDigest(slope), "ada").ok());
  const absl::Status status =
      ResolveOrder(library_.get(), OrderOn("bench", {"steel", "slope"})).status();
  EXPECT_THAT(status,
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("\"slope\" of slope 0.1")));
  EXPECT_THAT(test::BadFieldsOf(ToGrpc(status)), testing::ElementsAre("also_on[1]"));
  EXPECT_THAT(ResolveOrder(library_.get(), OrderOn("bench", {"ice"})).status(),
              HasStatus(absl::StatusCode::kNotFound, HasSubstr("ice")));
}

TEST_F(SeveralSurfacesTest, MayBeNamedByTheirVersions) {
  const std::string old_felt = library_->GetSurface("felt", "")->digest();
  StoreSurface("felt", 0.875);
  const v1::GaitOrder order = OrderOn("bench", {"felt", "steel"});
  const JobOrder now = ResolveOrder(library_.get(), order).value();
  const JobOrder before =
      ResolveOrder(library_.get(), order, {.also_on_digests = {old_felt, ""}}).value();
  EXPECT_NE(before.key, now.key);
  EXPECT_EQ(before.also_on[1].digest(), old_felt);
  EXPECT_THAT(ResolveOrder(library_.get(), order, {.also_on_digests = {old_felt}}).status(),
              HasStatus(absl::StatusCode::kInvalidArgument,
                        HasSubstr("also_on_digests is 1 digests; must be one for each")));
}

TEST_F(ResolveOrderTest, ATransitionNeedsItsGaits) {
  StoreDescriptions();
  v1::GaitOrder order = MakeOrder();
  order.clear_stride_frequency_hz();
  v1::Transition& transition = *order.mutable_task()->mutable_transition();
  const std::string good = StoreGait(v1::VERDICT_GOOD).name();
  transition.set_from_gait(good);
  transition.set_to_gait("g-unknown");
  transition.set_cycle_count(2);
  EXPECT_THAT(ResolveOrder(library_.get(), order).status(),
              HasStatus(absl::StatusCode::kNotFound, HasSubstr("g-unknown")));
  transition.set_to_gait(good);
  const auto resolved = ResolveOrder(library_.get(), order);
  ASSERT_THAT(resolved, test::IsOk());
  transition.set_to_phase_ratio(0.5);
  EXPECT_NE(ResolveOrder(library_.get(), order)->key, resolved->key);
  robot_.mutable_body()->set_mass_kg(2e-3);
  StoreDescriptions();
  const absl::Status status = ResolveOrder(library_.get(), order).status();
  EXPECT_THAT(
      status,
      HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("another version of a robot")));
  EXPECT_THAT(test::BadFieldsOf(ToGrpc(status)),
              testing::ElementsAre("task.transition.from_gait", "task.transition.to_gait"));
}

TEST_F(ResolveOrderTest, RefusesUnknownNames) {
  EXPECT_THAT(ResolveOrder(library_.get(), MakeOrder()).status(),
              HasStatus(absl::StatusCode::kNotFound, HasSubstr("quadruped")));
  ASSERT_TRUE(library_->PutRobot(robot_, solver::RobotDigest(robot_), "ada").ok());
  EXPECT_THAT(ResolveOrder(library_.get(), MakeOrder()).status(),
              HasStatus(absl::StatusCode::kNotFound, HasSubstr("bench")));
}

TEST_F(ResolveOrderTest, RefusesWhatTheRobotCannotDo) {
  robot_.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  robot_.mutable_body()->set_clamp_height_m(0.02);
  StoreDescriptions();
  v1::GaitOrder order = MakeOrder();
  order.clear_stride_frequency_hz();
  order.mutable_task()->mutable_hop()->set_rise_m(0.005);
  const absl::Status status = ResolveOrder(library_.get(), order).status();
  EXPECT_THAT(status,
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("BODY_SUPPORT_FREE")));
  EXPECT_FALSE(test::BadFieldsOf(ToGrpc(status)).empty());
}

}  // namespace
}  // namespace gaitshelf::service
