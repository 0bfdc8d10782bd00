#include "solver/robot/leg_linkage.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/demo.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

v1::LinkageLeg DemoLeg(int index) { return test::ReadDemoRobot("weevil").legs(index).linkage(); }

// Lift turns the arm 6.5 mm from the hip, swing the yoke 9.5 mm from its axis.
TEST(LegLinkageTest, ArmsAreThoseOfTheDrawing) {
  const auto leg = ReadLegLinkage(DemoLeg(0));
  ASSERT_THAT(leg, test::IsOk());
  EXPECT_EQ(leg->linkage.angle_count(), 8);
  EXPECT_EQ(leg->linkage.loop_equation_count(), 6);
  const LoopClosure closure(&leg->linkage);
  ClosedPosture rest;
  ASSERT_THAT(closure.Start(&rest), test::IsOk());
  const FootRates rates = MeasureFootRates(*leg, rest);
  EXPECT_NEAR(1.0 / rates.rad_per_m[0], 6.5e-3, 1e-7);
  EXPECT_NEAR(1.0 / rates.rad_per_m[1], -9.5e-3, 1e-7);
  EXPECT_NEAR(rates.share[1], 1.0, 1e-6);
}

TEST(LegLinkageTest, ReadsFlexuresInAnyOrder) {
  v1::LinkageLeg leg = DemoLeg(0);
  leg.mutable_flexures()->SwapElements(0, 7);
  leg.mutable_flexures()->SwapElements(2, 6);
  const auto read = ReadLegLinkage(leg);
  ASSERT_THAT(read, test::IsOk());
  for (int i = 0; i < 8; ++i) {
    EXPECT_LT(read->linkage.links[static_cast<size_t>(i)].parent, i);
  }
}

TEST(LegLinkageTest, LabelsFlexuresInTheOrderOfTheLinks) {
  v1::LinkageLeg leg = DemoLeg(0);
  leg.mutable_flexures()->SwapElements(0, 7);
  leg.mutable_flexures(1)->mutable_bending()->set_stiffness_n_m_per_rad(1e-5);
  const auto read = ReadLegLinkage(leg);
  ASSERT_THAT(read, test::IsOk());
  ASSERT_EQ(read->link_flexures.size(), 8u);
  for (size_t i = 0; i < 8; ++i) {
    // Names tell the flexures apart by where their hinges are.
    for (const v1::Flexure& flexure : leg.flexures()) {
      if (flexure.name() == read->link_flexures[i].name) {
        EXPECT_EQ(flexure.point_m(1), read->linkage.links[i].point[1]);
        const bool has_film = flexure.bending().has_film();
        EXPECT_EQ(read->link_flexures[i].strain_per_rad > 0.0, has_film) << flexure.name();
      }
    }
  }
  ASSERT_EQ(read->closing_flexures.size(), 3u);
  EXPECT_EQ(read->closing_flexures[1].name, "g");
  // Film of 12.5 um bent evenly over 0.12 mm: half the thickness over the radius.
  EXPECT_NEAR(read->closing_flexures[1].strain_per_rad, 6.25e-6 / 0.12e-3, 1e-15);
}

TEST(LegLinkageTest, RefusesWhatIsNoTree) {
  v1::LinkageLeg leg = DemoLeg(0);
  leg.mutable_flexures(0)->set_parent("swing-link");
  EXPECT_EQ(ReadLegLinkage(leg).status().code(), absl::StatusCode::kInvalidArgument);
}

}  // namespace
}  // namespace gaitshelf::solver
