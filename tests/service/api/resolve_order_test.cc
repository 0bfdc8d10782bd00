#include "service/api/resolve_order.h"

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
