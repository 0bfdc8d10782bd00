#include "solver/robot/bimorph.h"

#include <cmath>

#include <google/protobuf/util/message_differencer.h>
#include <gtest/gtest.h>

#include "solver/robot/digest.h"
#include "solver/robot/draw.h"
#include "solver/robot/leg_form.h"
#include "solver/robot/leg_linkage.h"
#include "tests/solver/robot/samples.h"
#include "tests/support/demo.h"

namespace gaitshelf::solver {
namespace {

using google::protobuf::util::MessageDifferencer;

v1::Bimorph Layered() {
  v1::Bimorph bimorph;
  test::FillBimorph(&bimorph);
  test::FillLayers(&bimorph);
  return bimorph;
}

TEST(BimorphTest, LeavesNumbersAlone) {
  EXPECT_TRUE(MessageDifferencer::Equals(WithoutLayers(test::SampleRobot()), test::SampleRobot()));
}

TEST(BimorphTest, KeepsWhatLayersDoNotSay) {
  v1::Bimorph expected;
  test::FillBimorph(&expected);
  v1::Bimorph found = WithoutLayers(Layered());
  EXPECT_FALSE(found.has_layers());
  found.set_gain_n_per_v(expected.gain_n_per_v());
  found.set_stiffness_n_per_m(expected.stiffness_n_per_m());
  found.set_capacitance_f(expected.capacitance_f());
  EXPECT_TRUE(MessageDifferencer::Equals(found, expected));
}

TEST(BimorphTest, SeriesHasHalfTheGainAndAQuarterOfTheCapacitance) {
  v1::Bimorph bimorph = Layered();
  const v1::Bimorph parallel = WithoutLayers(bimorph);
  bimorph.mutable_layers()->set_wiring(v1::BIMORPH_WIRING_SERIES);
  const v1::Bimorph series = WithoutLayers(bimorph);
  EXPECT_NEAR(series.gain_n_per_v(), 0.5 * parallel.gain_n_per_v(), 1e-15);
  EXPECT_NEAR(series.capacitance_f(), 0.25 * parallel.capacitance_f(), 1e-20);
  EXPECT_EQ(series.stiffness_n_per_m(), parallel.stiffness_n_per_m());
}

TEST(BimorphTest, ComplianceIsTheReciprocalOfTheModulus) {
  v1::Bimorph bimorph = Layered();
  const v1::Bimorph by_modulus = WithoutLayers(bimorph);
  bimorph.mutable_layers()->set_piezo_compliance_per_pa(1.0 / 6e10);
  const v1::Bimorph by_compliance = WithoutLayers(bimorph);
  EXPECT_NEAR(by_compliance.gain_n_per_v(), by_modulus.gain_n_per_v(), 1e-15);
  EXPECT_NEAR(by_compliance.stiffness_n_per_m(), by_modulus.stiffness_n_per_m(), 1e-9);
}

TEST(BimorphTest, UnknownPermittivityLeavesTheCapacitanceUnknown) {
  v1::Bimorph bimorph = Layered();
  bimorph.mutable_layers()->clear_permittivity_ratio();
  EXPECT_EQ(WithoutLayers(bimorph).capacitance_f(), 0.0);
}

TEST(BimorphTest, WorksOutAllBimorphsOfARobot) {
  v1::Robot lumped = test::SampleRobot();
  v1::Robot linkage = test::ReadDemoRobot("weevil");
  test::FillLayers(lumped.mutable_legs(1)->mutable_lumped()->mutable_swing()->mutable_bimorph());
  v1::LinkageCoordinate* lift = linkage.mutable_legs(0)->mutable_linkage()->mutable_lift();
  test::FillLayers(lift->mutable_drive()->mutable_bimorph());
  const double gain = WithoutLayers(Layered()).gain_n_per_v();
  EXPECT_EQ(BimorphOf(WithoutLayers(lumped).legs(1), 1)->gain_n_per_v(), gain);
  EXPECT_EQ(BimorphOf(WithoutLayers(linkage).legs(0), 0)->gain_n_per_v(), gain);
  // The linkage's pin has the beam's stiffness without being told.
  const auto leg = ReadLegLinkage(linkage.legs(0).linkage());
  ASSERT_TRUE(leg.ok());
  EXPECT_EQ(leg->linkage.pins[0].stiffness, WithoutLayers(Layered()).stiffness_n_per_m());
}

TEST(BimorphTest, DrawsAreThoseOfTheNumbers) {
  const v1::Robot robot = test::SampleLayeredRobot();
  std::mt19937 first(3), second(3);
  EXPECT_TRUE(MessageDifferencer::Equals(DrawRobot(robot, &first),
                                         DrawRobot(WithoutLayers(robot), &second)));
}

TEST(BimorphTest, LayersHaveADigestOfTheirOwn) {
  EXPECT_NE(RobotDigest(test::SampleLayeredRobot()), RobotDigest(test::SampleRobot()));
  EXPECT_NE(RobotDigest(test::SampleLayeredRobot()),
            RobotDigest(WithoutLayers(test::SampleLayeredRobot())));
}

}  // namespace
}  // namespace gaitshelf::solver
