// Covers service/api/find_modes.cc
#include "service/api/model_service.h"

#include <cmath>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "tests/service/api/served_library.h"
#include "tests/support/demo.h"

namespace gaitshelf::service {
namespace {

using test::BadFieldsOf;
using test::IsGrpcOk;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

using ModelServiceTest = test::ServedLibrary;

TEST_F(ModelServiceTest, ReadsTheTextOfARobotAndOfASurface) {
  v1::ReadRobotRequest robot;
  robot.set_text("name: \"point\" body { mass_kg: 1e-3 }");
  v1::ReadRobotResponse robot_answer;
  grpc::ClientContext one;
  ASSERT_THAT(model_stub_->ReadRobot(&one, robot, &robot_answer), IsGrpcOk());
  EXPECT_THAT(robot_answer.violations(), IsEmpty());
  EXPECT_EQ(robot_answer.robot().body().mass_kg(), 1e-3);
  v1::ReadSurfaceRequest surface;
  surface.set_text("friction_coefficient: 0");
  v1::ReadSurfaceResponse surface_answer;
  grpc::ClientContext two;
  ASSERT_THAT(model_stub_->ReadSurface(&two, surface, &surface_answer), IsGrpcOk());
  EXPECT_TRUE(surface_answer.surface().has_friction_coefficient());
}

// Bytes that are no UTF-8 travel to the server, and what it says of them comes back.
TEST_F(ModelServiceTest, TellsEveryFaultOfATextWithItsPlaceAndMend) {
  v1::ReadSurfaceRequest request;
  request.set_text(
      "name: \"felt\"\n"
      "  friction: 0.4\n"
      "slope_rad: \"steep\"\n"
      "friction_method: FRICTION_METHOD_TILTED\n"
      "title: \"\xff\"\n");
  v1::ReadSurfaceResponse response;
  grpc::ClientContext context;
  ASSERT_THAT(model_stub_->ReadSurface(&context, request, &response), IsGrpcOk());
  EXPECT_FALSE(response.has_surface());
  std::vector<std::string> lines;
  for (const v1::FieldViolation& violation : response.violations()) {
    lines.push_back(absl::StrCat(violation.line(),
                                 ":",
                                 violation.column(),
                                 ": ",
                                 violation.field(),
                                 " is ",
                                 violation.value(),
                                 "; ",
                                 violation.problem(),
                                 "; ",
                                 violation.mend()));
  }
  EXPECT_THAT(lines,
              ElementsAre("2:3: friction is unknown; is not a field of Surface; write "
                          "friction_coefficient; give a plain number: 18 % is 0.18",
                          "3:12: slope_rad is \"steep\"; must be a number; give radians: 5 "
                          "degrees are 0.0873",
                          "4:18: friction_method is FRICTION_METHOD_TILTED; is not one of the "
                          "known choices; write FRICTION_METHOD_TILT",
                          "5:8: title is \"\\377\"; is not valid UTF-8; save the file as UTF-8"));
}

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

// 6 of the body and 8 flexures a leg; 3 loops a leg with 2 equations each.
TEST_F(ModelServiceTest, SaysHowLinkageLegsWereCompiled) {
  v1::CheckRobotRequest request;
  *request.mutable_robot() = test::ReadDemoRobot("weevil");
  v1::CheckRobotResponse response;
  grpc::ClientContext context;
  ASSERT_THAT(model_stub_->CheckRobot(&context, request, &response), IsGrpcOk());
  EXPECT_EQ(response.coordinate_count(), 38);
  EXPECT_EQ(response.loop_equation_count(), 24);
  ASSERT_EQ(response.compiled_legs_size(), 4);
  for (int i = 0; i < 4; ++i) {
    const v1::CompiledLegReport& leg = response.compiled_legs(i);
    EXPECT_EQ(leg.leg(), request.robot().legs(i).name());
    EXPECT_GE(leg.degree(), 8);
    EXPECT_GT(leg.fit_error_ratio(), 0.0);
    EXPECT_LT(leg.fit_error_ratio(), 1e-6);
    // The lift four-bar's dead point lies at 0.61 rad, 1.9 times the range's end of 0.32 rad (own
    // continuation in small steps).
    EXPECT_NEAR(leg.singularity_ratio(), 0.609 / 0.32, 0.1);
    EXPECT_GT(leg.regularity_ratio(), 1.0 / 50.0);
    EXPECT_LT(leg.regularity_ratio(), 1.0);
  }
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

TEST_F(ModelServiceTest, WarnsOfNumbersOutOfTheOrdinary) {
  v1::CheckSurfaceRequest request;
  *request.mutable_surface() = surface_;
  request.mutable_surface()->set_friction_coefficient(2.0);
  v1::CheckSurfaceResponse response;
  grpc::ClientContext context;
  ASSERT_THAT(model_stub_->CheckSurface(&context, request, &response), IsGrpcOk());
  EXPECT_THAT(response.violations(), IsEmpty());
  ASSERT_EQ(response.warnings_size(), 1);
  EXPECT_EQ(response.warnings(0).field(), "friction_coefficient");
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

TEST_F(ModelServiceTest, FindsTheModesOfAStoredRobot) {
  StoreDescriptions();
  v1::FindModesRequest request;
  request.set_name(robot_.name());
  request.set_stride_frequency_hz(11.0);
  v1::FindModesResponse response;
  grpc::ClientContext context;
  ASSERT_THAT(model_stub_->FindModes(&context, request, &response), IsGrpcOk());
  EXPECT_EQ(response.robot_digest(), solver::RobotDigest(robot_));
  EXPECT_EQ(response.foot_condition(), v1::FOOT_CONDITION_SLIDING);
  ASSERT_EQ(response.modes_size(), 10);  // 14 coordinates, 4 heights held
  // The body on four lift springs; the closed form is derived in tests/solver/leg/modes_test.cc.
  const double tip = 1.0 / (10.4 * 10.4);
  const double heave_hz =
      std::sqrt(4.0 * (1.36 + 90.0 * tip) / (1.884e-3 + 4.0 * (1.92e-6 + 20e-6 * tip))) /
      (2.0 * std::acos(-1.0));
  EXPECT_EQ(response.modes(3).name(), "heave");
  EXPECT_NEAR(response.modes(3).frequency_hz(), heave_hz, 1e-8);
  EXPECT_EQ(response.modes(3).body_share_ratio_size(), 6);
  EXPECT_NEAR(response.modes(3).body_share_ratio(2), 1.0, 0.01);
  const double highest_hz = response.modes(9).frequency_hz();
  EXPECT_EQ(response.bare_sample_rate_hz(), 2.0 * highest_hz);
  EXPECT_EQ(response.least_sample_rate_hz(), 4.0 * highest_hz);
  EXPECT_THAT(response.warnings(), ElementsAre(HasSubstr("11 Hz sits on heave")));
  // 9 mm of swing travel, half of the cycle on the ground.
  EXPECT_EQ(response.duty_ratio(), 0.5);
  EXPECT_NEAR(response.advance_reach_m(), 0.018, 1e-12);
  EXPECT_NEAR(response.lift_margin_ratio(), 0.466, 1e-3);
  // 27 % of 100 V below the bias: this lift raises the body when its tip goes down.
  ASSERT_EQ(response.hold_v_size(), 8);
  EXPECT_NEAR(std::abs(response.hold_v(0) - 100.0), 26.7, 0.1);
  EXPECT_NEAR(response.hold_v(1), 100.0, 1e-9);
}

TEST_F(ModelServiceTest, FindsTheModesOfADescriptionInEachCondition) {
  v1::FindModesRequest request;
  *request.mutable_robot() = robot_;
  const auto count = [&](v1::FootCondition condition) {
    request.set_foot_condition(condition);
    v1::FindModesResponse response;
    grpc::ClientContext context;
    EXPECT_THAT(model_stub_->FindModes(&context, request, &response), IsGrpcOk());
    EXPECT_EQ(response.foot_condition(), condition);
    EXPECT_THAT(response.warnings(), IsEmpty());
    return response.modes_size();
  };
  EXPECT_EQ(count(v1::FOOT_CONDITION_FREE_FLIGHT), 14);
  EXPECT_EQ(count(v1::FOOT_CONDITION_STICKING), 4);
  EXPECT_EQ(count(v1::FOOT_CONDITION_CLAMPED), 8);
}

TEST_F(ModelServiceTest, WarnsOfDrivesThatCannotHoldThePosture) {
  v1::FindModesRequest request;
  *request.mutable_robot() = robot_;
  v1::LumpedLeg* leg = request.mutable_robot()->mutable_legs(1)->mutable_lumped();
  leg->mutable_lift()->mutable_bimorph()->set_gain_n_per_v(1e-4);
  request.mutable_robot()->mutable_legs(2)->mutable_lumped()->mutable_lift()->clear_bimorph();
  request.mutable_robot()
      ->mutable_legs(2)
      ->mutable_lumped()
      ->mutable_lift()
      ->clear_transmission_ratio();
  v1::FindModesResponse response;
  grpc::ClientContext context;
  ASSERT_THAT(model_stub_->FindModes(&context, request, &response), IsGrpcOk());
  EXPECT_THAT(response.warnings(),
              ElementsAre(HasSubstr("leg-2 lift would need"), HasSubstr("leg-3 lift carries")));
  EXPECT_LT(response.lift_margin_ratio(), 0.0);
}

TEST_F(ModelServiceTest, RefusesModesThatCannotBeFound) {
  v1::FindModesResponse response;
  v1::FindModesRequest request;
  request.set_stride_frequency_hz(-1.0);
  request.set_duty_ratio(1.5);
  grpc::ClientContext one;
  EXPECT_THAT(BadFieldsOf(model_stub_->FindModes(&one, request, &response)),
              ElementsAre("name", "stride_frequency_hz", "duty_ratio"));
  request.Clear();
  request.set_name("nobody");
  grpc::ClientContext two;
  EXPECT_EQ(model_stub_->FindModes(&two, request, &response).error_code(),
            grpc::StatusCode::NOT_FOUND);
  *request.mutable_robot() = robot_;
  // In front of all feet.
  test::SetVector(
      request.mutable_robot()->mutable_body()->mutable_center_of_mass_m(), 0.03, 0.0, 0.0);
  request.set_foot_condition(v1::FOOT_CONDITION_STICKING);
  grpc::ClientContext three;
  EXPECT_EQ(model_stub_->FindModes(&three, request, &response).error_code(),
            grpc::StatusCode::FAILED_PRECONDITION);
  request.mutable_robot()->mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  request.mutable_robot()->mutable_body()->set_clamp_height_m(0.02);
  request.set_foot_condition(v1::FOOT_CONDITION_FREE_FLIGHT);
  grpc::ClientContext clamped;
  EXPECT_EQ(model_stub_->FindModes(&clamped, request, &response).error_code(),
            grpc::StatusCode::FAILED_PRECONDITION);
  request.mutable_robot()->mutable_body()->set_mass_kg(-1.0);
  grpc::ClientContext four;
  EXPECT_THAT(BadFieldsOf(model_stub_->FindModes(&four, request, &response)),
              ElementsAre("body.mass_kg"));
}

}  // namespace
}  // namespace gaitshelf::service
