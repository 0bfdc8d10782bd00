// Rules of a body that take several of its fields, by way of CheckRobot.
#include <string>

#include "solver/robot/check.h"
#include "tests/solver/robot/samples.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::IsOk;
using testing::HasSubstr;

std::string Faults(const v1::Robot& robot) {
  return std::string(ToStatus(CheckRobot(robot)).message());
}

void SetTriple(google::protobuf::RepeatedField<double>* field, double x, double y, double z) {
  field->Clear();
  field->Add(x);
  field->Add(y);
  field->Add(z);
}

// An ellipsoid's moments are sums of two squares each; (1, 1, 3) would need a negative square.
TEST(BodyCheckTest, RejectsMomentsOfInertiaThatNoBodyHas) {
  v1::Robot robot = test::SampleRobot();
  SetTriple(robot.mutable_body()->mutable_inertia_kg_m2(), 1e-7, 1e-7, 3e-7);
  EXPECT_THAT(Faults(robot), HasSubstr("body.inertia_kg_m2[2] is 3e-07; must be at most the sum"));
  SetTriple(robot.mutable_body()->mutable_inertia_kg_m2(), 1e-7, 1e-7, 2e-7);  // a flat plate
  EXPECT_THAT(ToStatus(CheckRobot(robot)), IsOk());
}

TEST(BodyCheckTest, RejectsAHeldFreeBody) {
  v1::Robot robot = test::SampleRobot();
  robot.mutable_body()->set_clamp_height_m(0.02);
  EXPECT_THAT(Faults(robot), HasSubstr("body.clamp_height_m is 0.02; must be left out for a free"));
  robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  EXPECT_THAT(ToStatus(CheckRobot(robot)), IsOk());
}

}  // namespace
}  // namespace gaitshelf::solver
