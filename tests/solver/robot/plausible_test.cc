#include "solver/robot/plausible.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/solver/robot/samples.h"
#include "tests/support/demo.h"
#include "tests/support/robots.h"

namespace gaitshelf::solver {
namespace {

using ::testing::AllOf;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Property;

auto Warns(const std::string& field, const std::string& value, const std::string& problem) {
  return AllOf(Property(&v1::FieldViolation::field, field),
               Property(&v1::FieldViolation::value, value),
               Property(&v1::FieldViolation::problem, HasSubstr(problem)),
               Property(&v1::FieldViolation::mend, HasSubstr("keep it if")));
}

TEST(PlausibleTest, IsSilentAboutTheDemonstrations) {
  EXPECT_THAT(RobotWarnings(test::ReadDemoRobot("weevil-lumped")), IsEmpty());
  EXPECT_THAT(RobotWarnings(test::ReadDemoRobot("weevil")), IsEmpty());
  EXPECT_THAT(RobotWarnings(test::ReadDemoRobot("earwig")), IsEmpty());
  EXPECT_THAT(RobotWarnings(test::SampleLayeredRobot()), IsEmpty());
}

TEST(PlausibleTest, FindsAFilmAsStiffAsSteel) {
  v1::Robot robot = test::ReadDemoRobot("weevil");
  v1::LinkageLeg* leg = robot.mutable_legs(1)->mutable_linkage();
  leg->mutable_flexures(3)->mutable_bending()->mutable_film()->set_modulus_pa(2.5e11);
  leg->mutable_closing_flexures(0)->mutable_bending()->mutable_film()->set_modulus_pa(2.5e6);
  EXPECT_THAT(RobotWarnings(robot),
              ElementsAre(Warns("legs[1].linkage.flexures[3].bending.film.modulus_pa",
                                "2.5e+11",
                                "out of the ordinary: polymer films"),
                          Warns("legs[1].linkage.closing_flexures[0].bending.film.modulus_pa",
                                "2.5e+06",
                                "out of the ordinary")));
}

TEST(PlausibleTest, FindsLayersOfNoKnownCeramic) {
  v1::Robot robot = test::SampleLayeredRobot();
  v1::Bimorph* bimorph = robot.mutable_legs(0)->mutable_lumped()->mutable_lift()->mutable_bimorph();
  bimorph->set_min_v(-150.0);
  v1::BimorphLayers* layers = bimorph->mutable_layers();
  layers->set_piezo_compliance_per_pa(16.5e-10);
  layers->set_charge_constant_m_per_v(2.7e-9);
  layers->set_permittivity_ratio(3e-8);
  layers->set_shim_modulus_pa(120.0);
  const std::string path = "legs[0].lumped.lift.bimorph.";
  EXPECT_THAT(
      RobotWarnings(robot),
      ElementsAre(Warns(path + "layers.piezo_compliance_per_pa", "1.65e-09", "type 5H"),
                  Warns(path + "layers.charge_constant_m_per_v", "2.7e-09", "piezo ceramics"),
                  Warns(path + "layers.permittivity_ratio", "3e-08", "piezo ceramics"),
                  Warns(path + "layers.shim_modulus_pa", "120", "shims"),
                  Warns(path + "min_v", "-150", "1.5e+06 V/m on a layer against its poling")));
  layers->set_wiring(v1::BIMORPH_WIRING_SERIES);
  layers->set_piezo_modulus_pa(6e13);
  EXPECT_THAT(RobotWarnings(robot)[0], Warns(path + "layers.piezo_modulus_pa", "6e+13", "6e10"));
  // Half of the voltage on each layer is 7.5e5 V/m.
  EXPECT_EQ(RobotWarnings(robot).size(), 4u);
}

TEST(PlausibleTest, FindsFrictionThatNobodyMeasured) {
  EXPECT_THAT(SurfaceWarnings(test::MakeSurface(1.17)), IsEmpty());
  EXPECT_THAT(SurfaceWarnings(test::MakeSurface(0.0)), IsEmpty());
  EXPECT_THAT(SurfaceWarnings(test::MakeSurface(1.6)),
              ElementsAre(Warns("friction_coefficient", "1.6", "1.17 (sandpaper)")));
  EXPECT_THAT(SurfaceWarnings(test::MakeSurface(0.01)),
              ElementsAre(Warns("friction_coefficient", "0.01", "0.04 (PTFE)")));
}

}  // namespace
}  // namespace gaitshelf::solver
