#include "solver/robot/suggest.h"

#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

namespace gaitshelf::solver {
namespace {

TEST(SuggestFieldTest, FindsTheFieldBehindAnotherUnit) {
  for (const char* name : {"mass", "mass_g", "mass_mg"}) {
    EXPECT_EQ(SuggestField(*v1::Body::descriptor(), name),
              "write mass_kg; give kilograms: 1.9 g is 0.0019");
  }
}

TEST(SuggestFieldTest, FindsTheFieldBehindASlip) {
  EXPECT_EQ(SuggestField(*v1::Robot::descriptor(), "boby"), "write body");
  EXPECT_EQ(SuggestField(*v1::LumpedLeg::descriptor(), "swimg"), "write swing");
}

TEST(SuggestFieldTest, ListsTheFieldsOtherwise) {
  EXPECT_EQ(SuggestField(*v1::BodyFoot::descriptor(), "colour"), "use one of name, point_m");
}

TEST(SuggestChoiceTest, FindsASlipAndListsOtherwise) {
  EXPECT_EQ(SuggestChoice(*v1::BodySupport_descriptor(), "BODY_SUPPORT_FRE"),
            "write BODY_SUPPORT_FREE");
  EXPECT_EQ(SuggestChoice(*v1::BodySupport_descriptor(), "FLOATING"),
            "use one of BODY_SUPPORT_FREE, BODY_SUPPORT_CLAMPED");
}

// kitten -> sitting takes three: the usual example of the Levenshtein distance (common practice).
TEST(EditDistanceTest, CountsInsertionsDeletionsAndReplacements) {
  EXPECT_EQ(EditDistance("kitten", "sitting"), 3);
  EXPECT_EQ(EditDistance("", "abc"), 3);
  EXPECT_EQ(EditDistance("abc", ""), 3);
  EXPECT_EQ(EditDistance("abc", "abc"), 0);
}

}  // namespace
}  // namespace gaitshelf::solver
