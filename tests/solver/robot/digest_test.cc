#include "solver/robot/digest.h"

#include <cmath>
#include <memory>
#include <set>
#include <string>

#include "tests/solver/robot/field_visitor.h"
#include "tests/solver/robot/samples.h"
#include "tests/support/read_description.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using test::FieldPlace;
using testing::MatchesRegex;

// A robot as libraries from before the later fields hold it: its keys must stay.
v1::Robot EarlyRobot() {
  v1::Robot robot = test::SampleRobot();
  robot.clear_uncertainty();
  return robot;
}

v1::Gait SampleGait() {
  v1::Gait gait;
  gait.set_robot("sample");
  gait.set_robot_digest(RobotDigest(EarlyRobot()));
  gait.set_stride_frequency_hz(12.0);
  gait.mutable_task()->mutable_advance()->set_advance_m(0.009);
  gait.set_knot_count(2);
  gait.add_body_position_m(0.001);
  gait.mutable_report()->set_iteration_count(31);
  gait.mutable_report()->set_solve_s(0.7);
  return gait;
}

// Golden values: they lock the canonical form. A change here makes every library lose its keys, so
// a new form needs a new version in the first line of digest.cc and a migration.
TEST(DigestTest, IsLocked) {
  EXPECT_EQ(RobotDigest(EarlyRobot()),
            "ea8854a5dd32a0c3542f058cfd68c3c080d721abf9e263ca91b5440db5a67880");
  EXPECT_EQ(RobotDigest(test::SampleRobot()),
            "6df40db925362d410591d7786ce56f78d35be0c28336725e66330ff8ae386807");
  EXPECT_EQ(SurfaceDigest(test::SampleSurface()),
            "580f9474c1434d29e7c176fc39d670f3fc9d8193080ff32633c94a0788314096");
  EXPECT_EQ(GaitName(SampleGait()), "g-8c0d5cc1271632faa5a7a610ab7f3b67");
  EXPECT_EQ(OrderKey(std::string(64, 'a'), std::string(64, 'b'), test::SampleAdvanceOrder()),
            "2fe13e1bb573e3080f1d96b240828f5331fa448fd23d9f9895dd5c0c08ee5b42");
}

TEST(DigestTest, HasSixtyFourHexadecimalDigits) {
  EXPECT_THAT(RobotDigest(v1::Robot()), MatchesRegex("[0-9a-f]{64}"));
  EXPECT_THAT(SurfaceDigest(v1::Surface()), MatchesRegex("[0-9a-f]{64}"));
  EXPECT_THAT(GaitName(v1::Gait()), MatchesRegex("g-[0-9a-f]{32}"));
  EXPECT_NE(RobotDigest(v1::Robot()), SurfaceDigest(v1::Surface()));
}

TEST(DigestTest, DoesNotDependOnTheOrderOrFormOfTheText) {
  const auto first = test::ReadSurfaceText(
      "name: \"felt\" friction_coefficient: 0.45 slope_rad: 0.1 friction_method: "
      "FRICTION_METHOD_TILT");
  const auto second = test::ReadSurfaceText(
      "# The same again\nslope_rad: 1e-1,\nfriction_method: 1\nfriction_coefficient: 0.450\n"
      "name: 'felt'");
  ASSERT_THAT(first, test::IsOk());
  ASSERT_THAT(second, test::IsOk());
  EXPECT_EQ(SurfaceDigest(*first), SurfaceDigest(*second));
}

TEST(DigestTest, DoesNotDependOnTheBytesOnTheWire) {
  // Field 5 before field 3: a valid encoding that no serialiser writes.
  const v1::Surface surface = test::SampleSurface();
  v1::Surface low;
  low.set_friction_coefficient(surface.friction_coefficient());
  low.set_friction_uncertainty_coefficient(surface.friction_uncertainty_coefficient());
  v1::Surface high;
  high.set_slope_rad(surface.slope_rad());
  v1::Surface read;
  ASSERT_TRUE(read.ParseFromString(high.SerializeAsString() + low.SerializeAsString()));
  EXPECT_EQ(SurfaceDigest(read), SurfaceDigest(surface));
}

TEST(DigestTest, LeavesOutNamesAndNotes) {
  v1::Robot robot = test::SampleRobot();
  robot.set_name("other");
  robot.set_title("other");
  EXPECT_EQ(RobotDigest(robot), RobotDigest(test::SampleRobot()));
  v1::Surface surface = test::SampleSurface();
  surface.set_name("other");
  surface.set_title("other");
  surface.set_measured_on("2020-01-01");
  surface.set_friction_method(v1::FRICTION_METHOD_HANDBOOK);
  EXPECT_EQ(SurfaceDigest(surface), SurfaceDigest(test::SampleSurface()));
}

TEST(DigestTest, ChangesWithTheLastBitOfEveryNumberOfARobot) {
  std::set<std::string> digests = {RobotDigest(test::SampleRobot())};
  size_t count = 1;
  const auto paths =
      test::PathsOf(test::SampleRobot(), [](const FieldPlace& place) { return place.is_number(); });
  for (const std::string& path : paths) {
    v1::Robot robot = test::SampleRobot();
    test::ChangeField(&robot, path, [](const FieldPlace& place) {
      const auto& reflection = *place.owner->GetReflection();
      const double value = place.field->is_repeated()
                               ? reflection.GetRepeatedDouble(*place.owner, place.field, 0)
                               : reflection.GetDouble(*place.owner, place.field);
      place.SetNumber(std::nextafter(value, 1e300));
    });
    digests.insert(RobotDigest(robot));
    ++count;
  }
  EXPECT_EQ(digests.size(), count);
}

TEST(DigestTest, ChangesWithNamesOfLegsAndWithTheirOrder) {
  v1::Robot renamed = test::SampleRobot();
  renamed.mutable_legs(0)->set_name("other");
  v1::Robot swapped = test::SampleRobot();
  swapped.mutable_legs()->SwapElements(0, 1);
  EXPECT_NE(RobotDigest(renamed), RobotDigest(test::SampleRobot()));
  EXPECT_NE(RobotDigest(swapped), RobotDigest(test::SampleRobot()));
}

TEST(GaitNameTest, LeavesOutTimesAuditAndProvenance) {
  v1::Gait gait = SampleGait();
  gait.set_name("g-anything");
  gait.mutable_report()->set_solve_s(99.0);
  gait.mutable_audit()->set_verdict(v1::VERDICT_GOOD);
  gait.mutable_provenance()->set_host("bench");
  EXPECT_EQ(GaitName(gait), GaitName(SampleGait()));
}

TEST(GaitNameTest, IsTheSameForAnEmptyReportAndNone) {
  v1::Gait gait;
  v1::Gait with_report;
  with_report.mutable_report()->set_solve_s(1.0);
  EXPECT_EQ(GaitName(gait), GaitName(with_report));
}

TEST(GaitNameTest, ChangesWithTheTrajectory) {
  v1::Gait gait = SampleGait();
  gait.set_body_position_m(0, std::nextafter(0.001, 1.0));
  EXPECT_NE(GaitName(gait), GaitName(SampleGait()));
}

std::string Key(const v1::GaitOrder& order) {
  return OrderKey(std::string(64, 'a'), std::string(64, 'b'), order);
}

TEST(OrderKeyTest, LeavesOutNamesAndOptions) {
  v1::GaitOrder order = test::SampleAdvanceOrder();
  order.set_robot("other");
  order.set_surface("other");
  order.mutable_options()->set_rng(99);
  order.clear_objective();  // stands for least effort
  EXPECT_EQ(Key(order), Key(test::SampleAdvanceOrder()));
}

TEST(OrderKeyTest, HoldsTheFrequencyToAThousandthOfAHertz) {
  v1::GaitOrder order = test::SampleAdvanceOrder();
  order.set_stride_frequency_hz(12.0 + 1e-9);
  EXPECT_EQ(Key(order), Key(test::SampleAdvanceOrder()));
  order.set_stride_frequency_hz(12.001);
  EXPECT_NE(Key(order), Key(test::SampleAdvanceOrder()));
}

// The golden value locks the form of a key of several surfaces.
TEST(OrderKeyTest, HoldsTheSetOfSurfacesWhicheverComesFirst) {
  const std::string robot(64, 'a'), b(64, 'b'), c(64, 'c'), d(64, 'd');
  const v1::GaitOrder order = test::SampleAdvanceOrder();
  const std::string key = OrderKey(robot, b, order, {c, d});
  EXPECT_EQ(OrderKey(robot, b, order, {d, c}), key);
  EXPECT_EQ(OrderKey(robot, d, order, {b, c}), key);
  EXPECT_NE(OrderKey(robot, b, order, {c}), key);
  EXPECT_NE(OrderKey(robot, b, order), OrderKey(robot, b, order, {c}));
  EXPECT_EQ(OrderKey(robot, b, order, {}), OrderKey(robot, b, order));
  EXPECT_EQ(key, "c49c01be34e2f19dedc20f5fd3ebeb9aa6da5af8a6e023887eed8665e3302f80");
}

TEST(OrderKeyTest, ChangesWithTaskRobotAndSurface) {
  v1::GaitOrder order = test::SampleAdvanceOrder();
  order.mutable_task()->mutable_advance()->set_advance_m(0.0091);
  EXPECT_NE(Key(order), Key(test::SampleAdvanceOrder()));
  EXPECT_NE(Key(test::SampleHopOrder()), Key(test::SampleAdvanceOrder()));
  const std::string a(64, 'a');
  const std::string b(64, 'b');
  EXPECT_NE(OrderKey(a, b, test::SampleAdvanceOrder()), OrderKey(b, a, test::SampleAdvanceOrder()));
}

}  // namespace
}  // namespace gaitshelf::solver
