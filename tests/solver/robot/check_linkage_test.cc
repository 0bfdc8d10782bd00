#include "solver/robot/check_linkage.h"

#include <cmath>
#include <functional>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "solver/robot/check.h"
#include "tests/solver/robot/field_visitor.h"
#include "tests/support/demo.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using ::testing::HasSubstr;

v1::Robot Demo() { return test::ReadDemoRobot("weevil"); }

// Two links in a row; foot and both hinges lie on one line, so that both angles move the foot
// across it.
void MakeChain(v1::LinkageLeg* leg) {
  const std::string names[] = {"swing-crank", "yoke"};
  leg->mutable_links()->DeleteSubrange(3, leg->links_size() - 3);
  leg->mutable_links()->DeleteSubrange(1, 1);
  leg->mutable_flexures()->DeleteSubrange(2, leg->flexures_size() - 2);
  leg->clear_closing_flexures();
  for (int i = 0; i < 2; ++i) {
    v1::Flexure* flexure = leg->mutable_flexures(i);
    flexure->set_parent(i == 0 ? "body" : names[0]);
    flexure->set_child(names[i]);
    for (int axis = 0; axis < 3; ++axis) {
      flexure->set_axis_ratio(axis, axis == 1 ? 1.0 : 0.0);
      flexure->set_point_m(axis, axis == 1 ? 0.008 : 0.005 + 0.003 * i);
    }
  }
  for (int axis = 0; axis < 3; ++axis) {
    leg->set_foot_m(axis, axis == 1 ? 0.008 : 0.012);
  }
  leg->set_foot_link(names[1]);
  leg->mutable_lift()->set_flexure("a");
  leg->mutable_swing()->set_flexure("b");
  leg->mutable_lift()->clear_drive();
  leg->mutable_swing()->clear_drive();
}

struct Case {
  std::string name;
  std::function<void(v1::LinkageLeg*)> change;
  std::string text;  // of the fault, behind "legs[0].linkage."
};

std::vector<Case> Cases() {
  return {
      {"TwoLinksOfOneName",
       [](v1::LinkageLeg* leg) { leg->mutable_links(1)->set_name("yoke"); },
       "links[2].name is \"yoke\"; is also the name in legs[0].linkage.links[1].name"},
      {"LinkNamedBody",
       [](v1::LinkageLeg* leg) { leg->mutable_links(0)->set_name("body"); },
       "links[0].name is \"body\"; is the name of the body"},
      {"UnknownParent",
       [](v1::LinkageLeg* leg) { leg->mutable_flexures(3)->set_parent("yolk"); },
       "flexures[3].parent is \"yolk\"; names no link of this leg"},
      {"UnknownFootLink",
       [](v1::LinkageLeg* leg) { leg->set_foot_link("sole"); },
       "foot_link is \"sole\"; names no link"},
      {"UnknownCoordinate",
       [](v1::LinkageLeg* leg) { leg->mutable_lift()->set_flexure("z"); },
       "lift.flexure is \"z\"; names no flexure"},
      {"OneFlexureForBoth",
       [](v1::LinkageLeg* leg) { leg->mutable_swing()->set_flexure("h"); },
       "swing.flexure is \"h\"; is also the flexure of lift"},
      {"TwoParents",
       [](v1::LinkageLeg* leg) { leg->mutable_flexures(1)->set_child("yoke"); },
       "flexures[2].child is \"yoke\"; hangs on another flexure already"},
      {"Ring",
       [](v1::LinkageLeg* leg) { leg->mutable_flexures(0)->set_parent("swing-link"); },
       "links[0].name is \"swing-crank\"; does not hang on the body"},
      {"WrongCount",
       [](v1::LinkageLeg* leg) { leg->mutable_closing_flexures()->RemoveLast(); },
       "flexures is 8 flexures; must be 2 more than twice the closing flexures, here 6"},
      {"AxisOfLengthTwo",
       [](v1::LinkageLeg* leg) { leg->mutable_flexures(0)->set_axis_ratio(0, 1.0); },
       "flexures[0].axis_ratio is [1, 0, 1]; must have norm 1"},
      {"NegativeInertia",
       [](v1::LinkageLeg* leg) { leg->mutable_links(2)->set_inertia_kg_m2(3, 1e-10); },
       "links[2].inertia_kg_m2 is ["},
      {"RangeAboveRest",
       [](v1::LinkageLeg* leg) { leg->mutable_lift()->set_min_rad(0.1); },
       "lift.min_rad is 0.1; must be at most 0"},
      {"EmptyVoltageRange",
       [](v1::LinkageLeg* leg) {
         leg->mutable_lift()->mutable_drive()->mutable_bimorph()->set_max_v(0.0);
       },
       "lift.drive.bimorph.max_v is missing; must be more than min_v"},
      {"SpatialLoop",
       [](v1::LinkageLeg* leg) {
         leg->mutable_closing_flexures(1)->set_axis_ratio(0, 0.0);
         leg->mutable_closing_flexures(1)->set_axis_ratio(2, 1.0);
       },
       "closing_flexures[1].axis_ratio is [0, 0, 1]; is not parallel to"},
      {"LiftThatSwings",
       [](v1::LinkageLeg* leg) {
         leg->mutable_lift()->set_flexure("d");
         leg->mutable_swing()->set_flexure("h");
       },
       "lift.flexure is share 0; must raise the foot"},
      {"FootThatStaysBehind",
       [](v1::LinkageLeg* leg) {
         // A point on the hinge of its own link.
         leg->set_foot_link("swing-crank");
         *leg->mutable_foot_m() = leg->flexures(0).point_m();
         leg->mutable_lift()->set_flexure("h");
       },
       "foot_link is \"swing-crank\"; moves neither with lift nor with swing"},
      {"TwoAnglesOfOneFourBar",
       [](v1::LinkageLeg* leg) { leg->mutable_swing()->set_flexure("e"); },
       "closing_flexures[1] is dependent loop equations; does not hold its loop"},
      {"FootMovedAlongOneLine",
       [](v1::LinkageLeg* leg) { MakeChain(leg); },
       "swing.flexure is \"b\"; moves the foot along the line on which lift moves it"},
      {"NearlySingularPosture",
       [](v1::LinkageLeg* leg) {
         // A parallelogram 6.5 mm long and 0.05 mm high.
         const auto flat = [](const v1::Flexure& above, auto* below) {
           *below->mutable_point_m() = above.point_m();
           below->set_point_m(2, above.point_m(2) - 5e-5);
         };
         flat(leg->flexures(5), leg->mutable_flexures(6));
         flat(leg->flexures(7), leg->mutable_closing_flexures(2));
       },
       "closing_flexures[2] is nearly singular posture"},
      {"SingularPosture",
       [](v1::LinkageLeg* leg) { leg->mutable_lift()->set_max_rad(0.65); },
       "closing_flexures[1] is singular posture near lift "},
      // A closing flexure on the flexure that the links share anyway holds nothing.
      {"DependentLoop",
       [](v1::LinkageLeg* leg) {
         for (int i = 0; i < 3; ++i) {
           leg->mutable_closing_flexures(1)->set_point_m(i, leg->flexures(4).point_m(i));
         }
         leg->mutable_closing_flexures(1)->set_link_a("lift-crank");
         leg->mutable_closing_flexures(1)->set_link_b("lift-link");
       },
       "closing_flexures[1] is dependent loop equations; "},
  };
}

class CheckLinkageTest : public testing::TestWithParam<Case> {};

TEST_P(CheckLinkageTest, NamesTheFaultyField) {
  v1::Robot robot = Demo();
  GetParam().change(robot.mutable_legs(0)->mutable_linkage());
  EXPECT_THAT(std::string(ToStatus(CheckRobot(robot)).message()),
              HasSubstr("legs[0].linkage." + GetParam().text));
}

INSTANTIATE_TEST_SUITE_P(All, CheckLinkageTest, testing::ValuesIn(Cases()), [](const auto& one) {
  return one.param.name;
});

TEST(CheckLinkageTest, AcceptsTheDemonstration) {
  EXPECT_THAT(ToStatus(CheckRobot(Demo())), test::IsOk());
}

TEST(CheckLinkageTest, NamesEveryNumberThatIsNotFinite) {
  v1::Robot robot = Demo();
  std::vector<std::string> paths;
  test::VisitFields(robot.mutable_legs(0)->mutable_linkage(),
                    "legs[0].linkage.",
                    [&](const test::FieldPlace& place) {
                      const bool is_chosen =
                          place.field->real_containing_oneof() == nullptr ||
                          place.owner->GetReflection()->HasField(*place.owner, place.field);
                      if (place.is_number() && is_chosen) {
                        place.SetNumber(std::nan(""));
                        paths.push_back(place.number_path());
                      }
                    });
  ASSERT_GT(paths.size(), 100);
  const std::string text(ToStatus(CheckRobot(robot)).message());
  for (const std::string& path : paths) {
    EXPECT_THAT(text, HasSubstr(path + " is nan; "));
  }
}

}  // namespace
}  // namespace gaitshelf::solver
