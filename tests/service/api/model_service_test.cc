#include "service/api/model_service.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/api/served_library.h"

namespace gaitshelf::service {
namespace {

using test::BadFieldsOf;
using test::IsGrpcOk;
using testing::ElementsAre;
using testing::IsEmpty;

using ModelServiceTest = test::ServedLibrary;

TEST_F(ModelServiceTest, DescribesAGoodRobot) {
  v1::CheckRobotRequest request;
  *request.mutable_robot() = robot_;
  v1::CheckRobotResponse response;
  grpc::ClientContext context;
  ASSERT_THAT(model_stub_->CheckRobot(&context, request, &response), IsGrpcOk());
  EXPECT_THAT(response.violations(), IsEmpty());
  EXPECT_EQ(response.digest(), solver::RobotDigest(robot_));
  EXPECT_EQ(response.coordinate_count(), 14);  // 6 of the body, 2 of each leg
  EXPECT_EQ(response.loop_equation_count(), 0);
  // 1.884 g and four feet of 4 mg.
  EXPECT_NEAR(response.total_mass_kg(), 1.9e-3, 1e-9);
  EXPECT_NEAR(response.standing_height_m(), 0.011, 1e-12);
}

TEST_F(ModelServiceTest, DescribesAClampedRobot) {
  v1::CheckRobotRequest request;
  *request.mutable_robot() = robot_;
  request.mutable_robot()->mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  request.mutable_robot()->mutable_body()->set_clamp_height_m(0.02);
  v1::CheckRobotResponse response;
  grpc::ClientContext context;
  ASSERT_THAT(model_stub_->CheckRobot(&context, request, &response), IsGrpcOk());
  EXPECT_EQ(response.coordinate_count(), 8);
  EXPECT_EQ(response.standing_height_m(), 0.02);
}

TEST_F(ModelServiceTest, AnswersWithEveryFault) {
  v1::CheckRobotRequest request;
  *request.mutable_robot() = robot_;
  request.mutable_robot()->set_name("Quadruped");
  request.mutable_robot()->mutable_body()->set_mass_kg(20.0);
  v1::CheckRobotResponse response;
  grpc::ClientContext context;
  ASSERT_THAT(model_stub_->CheckRobot(&context, request, &response), IsGrpcOk());
  ASSERT_EQ(response.violations_size(), 2) << response.DebugString();
  EXPECT_EQ(response.violations(0).field(), "name");
  EXPECT_EQ(response.violations(1).field(), "body.mass_kg");
  EXPECT_EQ(response.digest(), "");
}

TEST_F(ModelServiceTest, ChecksASurface) {
  v1::CheckSurfaceRequest request;
  *request.mutable_surface() = surface_;
  v1::CheckSurfaceResponse response;
  {
    grpc::ClientContext context;
    ASSERT_THAT(model_stub_->CheckSurface(&context, request, &response), IsGrpcOk());
  }
  EXPECT_EQ(response.digest(), solver::SurfaceDigest(surface_));
  request.mutable_surface()->set_friction_coefficient(4.0);
  grpc::ClientContext context;
  ASSERT_THAT(model_stub_->CheckSurface(&context, request, &response), IsGrpcOk());
  ASSERT_EQ(response.violations_size(), 1);
  EXPECT_EQ(response.violations(0).field(), "friction_coefficient");
}

TEST_F(ModelServiceTest, RefusesAnEmptyRequest) {
  v1::CheckRobotResponse robot;
  v1::CheckSurfaceResponse surface;
  grpc::ClientContext one;
  EXPECT_THAT(BadFieldsOf(model_stub_->CheckRobot(&one, v1::CheckRobotRequest(), &robot)),
              ElementsAre("robot"));
  grpc::ClientContext two;
  EXPECT_THAT(BadFieldsOf(model_stub_->CheckSurface(&two, v1::CheckSurfaceRequest(), &surface)),
              ElementsAre("surface"));
}

}  // namespace
}  // namespace gaitshelf::service
