#include "solver/robot/check_bimorph.h"

#include <functional>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/robot/check.h"
#include "tests/solver/robot/samples.h"
#include "tests/support/demo.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using ::testing::HasSubstr;

std::string FaultsOf(const std::function<void(v1::Bimorph*)>& change) {
  v1::Robot robot = test::SampleLayeredRobot();
  change(robot.mutable_legs(0)->mutable_lumped()->mutable_lift()->mutable_bimorph());
  return std::string(ToStatus(CheckRobot(robot)).message());
}

TEST(CheckBimorphTest, AcceptsEitherFormOfElasticityAndNoShim) {
  EXPECT_EQ(FaultsOf([](v1::Bimorph*) {}), "");
  EXPECT_EQ(FaultsOf([](v1::Bimorph* bimorph) {
              bimorph->mutable_layers()->set_piezo_compliance_per_pa(1.65e-11);
            }),
            "");
  EXPECT_EQ(FaultsOf([](v1::Bimorph* bimorph) {
              bimorph->mutable_layers()->clear_shim_thickness_m();
              bimorph->mutable_layers()->clear_shim_modulus_pa();
            }),
            "");
}

TEST(CheckBimorphTest, RefusesBothForms) {
  const std::string path = "legs[0].lumped.lift.bimorph.";
  EXPECT_THAT(FaultsOf([](v1::Bimorph* bimorph) { bimorph->set_gain_n_per_v(1.8e-3); }),
              HasSubstr(path + "gain_n_per_v is 0.0018; must be left out with layers"));
  EXPECT_THAT(FaultsOf([](v1::Bimorph* bimorph) { bimorph->set_stiffness_n_per_m(90.0); }),
              HasSubstr(path + "stiffness_n_per_m is 90; must be left out with layers"));
  EXPECT_THAT(FaultsOf([](v1::Bimorph* bimorph) { bimorph->set_capacitance_f(4.7e-9); }),
              HasSubstr(path + "capacitance_f is 4.7e-09; must be left out with layers"));
}

TEST(CheckBimorphTest, RefusesNeitherForm) {
  EXPECT_THAT(FaultsOf([](v1::Bimorph* bimorph) { bimorph->clear_layers(); }),
              HasSubstr("gain_n_per_v is missing; is required without layers"));
}

TEST(CheckBimorphTest, RefusesAShimOfNoStiffnessAndStiffnessOfNoShim) {
  EXPECT_THAT(
      FaultsOf([](v1::Bimorph* bimorph) { bimorph->mutable_layers()->clear_shim_modulus_pa(); }),
      HasSubstr("layers.shim_modulus_pa is missing; is required with a shim"));
  EXPECT_THAT(
      FaultsOf([](v1::Bimorph* bimorph) { bimorph->mutable_layers()->clear_shim_thickness_m(); }),
      HasSubstr("layers.shim_modulus_pa is 1.1e+11; must be left out without a shim"));
}

TEST(CheckBimorphTest, SaysWhyTheWiringIsNeeded) {
  EXPECT_THAT(FaultsOf([](v1::Bimorph* bimorph) { bimorph->mutable_layers()->clear_wiring(); }),
              HasSubstr("layers.wiring is missing; is required: a series bimorph"));
}

TEST(CheckBimorphTest, FindsMicrometresGivenAsMetres) {
  EXPECT_THAT(FaultsOf([](v1::Bimorph* bimorph) {
                bimorph->mutable_layers()->set_piezo_thickness_m(127.0);
              }),
              HasSubstr("layers.piezo_thickness_m is 127; must be more than 0 and at most 0.01 m"));
  // A length in kilometres passes its range, but then the beam is far too strong for the robot.
  EXPECT_THAT(FaultsOf([](v1::Bimorph* bimorph) { bimorph->mutable_layers()->set_length_m(9e-6); }),
              HasSubstr("bimorph.layers is "));
}

TEST(CheckBimorphTest, KnowsTheBimorphsOfLinkageLegs) {
  v1::Robot robot = test::ReadDemoRobot("weevil");
  v1::Bimorph* bimorph =
      robot.mutable_legs(2)->mutable_linkage()->mutable_swing()->mutable_drive()->mutable_bimorph();
  test::FillLayers(bimorph);
  EXPECT_THAT(ToStatus(CheckRobot(robot)), test::IsOk());
  bimorph->clear_layers();
  EXPECT_THAT(std::string(ToStatus(CheckRobot(robot)).message()),
              HasSubstr("legs[2].linkage.swing.drive.bimorph.gain_n_per_v is missing"));
}

}  // namespace
}  // namespace gaitshelf::solver
