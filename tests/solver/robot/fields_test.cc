// Bad input, field by field. The fields come from the message types by reflection; what is required
// and what may be negative is listed here once more, by hand, so that a wrong rule is found.
#include <cmath>
#include <functional>
#include <limits>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "solver/robot/check.h"
#include "solver/robot/rules.h"
#include "tests/solver/robot/field_visitor.h"
#include "tests/solver/robot/samples.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;
using test::ChangeField;
using test::FieldPlace;
using test::PathsOf;

enum class What { kRobot, kLayeredRobot, kSurface, kAdvanceOrder, kHopOrder };

std::unique_ptr<Message> Sample(What what) {
  switch (what) {
    case What::kRobot:
      return std::make_unique<v1::Robot>(test::SampleRobot());
    case What::kLayeredRobot:
      return std::make_unique<v1::Robot>(test::SampleLayeredRobot());
    case What::kSurface:
      return std::make_unique<v1::Surface>(test::SampleSurface());
    case What::kAdvanceOrder:
      return std::make_unique<v1::GaitOrder>(test::SampleAdvanceOrder());
    case What::kHopOrder:
      return std::make_unique<v1::GaitOrder>(test::SampleHopOrder());
  }
  return nullptr;
}

Violations Check(const Message& message) {
  if (const auto* robot = dynamic_cast<const v1::Robot*>(&message); robot != nullptr) {
    return CheckRobot(*robot);
  }
  if (const auto* surface = dynamic_cast<const v1::Surface*>(&message); surface != nullptr) {
    return CheckSurface(*surface);
  }
  return CheckOrder(dynamic_cast<const v1::GaitOrder&>(message));
}

struct Case {
  What what;
  std::string path;
};

std::string CaseName(const testing::TestParamInfo<Case>& info) {
  std::string name = info.param.what == What::kRobot          ? "robot_"
                     : info.param.what == What::kLayeredRobot ? "layered_"
                     : info.param.what == What::kSurface      ? "surface_"
                     : info.param.what == What::kAdvanceOrder ? "advance_"
                                                              : "hop_";
  for (const char c : info.param.path) {
    name += std::isalnum(static_cast<unsigned char>(c)) != 0 ? c : '_';
  }
  return name;
}

std::vector<Case> CasesOf(const std::function<bool(const FieldPlace&)>& wanted) {
  std::vector<Case> cases;
  for (const What what : {What::kRobot, What::kSurface, What::kAdvanceOrder, What::kHopOrder}) {
    for (const std::string& path : PathsOf(*Sample(what), wanted)) {
      cases.push_back({what, path});
    }
  }
  for (const std::string& path : PathsOf(*Sample(What::kLayeredRobot), wanted)) {
    if (path.find("legs[0].lumped.lift.bimorph.layers") == 0) {
      cases.push_back({What::kLayeredRobot, path});
    }
  }
  return cases;
}

std::vector<Case> AllCases() {
  // Of a oneof only the form that the sample has can go missing.
  return CasesOf([](const FieldPlace& place) {
    return place.field->real_containing_oneof() == nullptr ||
           place.owner->GetReflection()->HasField(*place.owner, place.field);
  });
}
std::vector<Case> NumberCases() {
  return CasesOf([](const FieldPlace& place) { return place.is_number(); });
}
std::vector<Case> ChoiceCases() {
  return CasesOf([](const FieldPlace& place) {
    return place.field->cpp_type() == FieldDescriptor::CPPTYPE_ENUM;
  });
}
std::vector<Case> NameCases() {
  return CasesOf([](const FieldPlace& place) {
    return place.field->cpp_type() == FieldDescriptor::CPPTYPE_STRING &&
           !place.field->is_repeated() && place.field->name() != "title" &&
           place.field->name() != "measured_on";
  });
}

// Finds the fault of a field, or of an element of it.
const v1::FieldViolation* FindFault(const Violations& violations, const std::string& path) {
  for (const v1::FieldViolation& violation : violations) {
    if (violation.field() == path || violation.field().rfind(path + "[", 0) == 0) {
      return &violation;
    }
  }
  return nullptr;
}

// Expects a fault of the field with the value, and that it says what is wrong and how to mend it.
void ExpectFault(const Violations& violations, const std::string& path, const std::string& value) {
  const v1::FieldViolation* fault = FindFault(violations, path);
  ASSERT_NE(fault, nullptr) << path << " is not named in: " << ToStatus(violations);
  EXPECT_EQ(fault->value(), value);
  EXPECT_FALSE(fault->problem().empty());
  EXPECT_FALSE(fault->mend().empty());
}

class FieldTest : public testing::TestWithParam<Case> {
 protected:
  Violations CheckChanged(const std::function<void(const FieldPlace&)>& change) {
    const std::unique_ptr<Message> message = Sample(GetParam().what);
    ChangeField(message.get(), GetParam().path, [&](const FieldPlace& place) {
      type_name_ = place.type_name();
      number_path_ = place.number_path();
      change(place);
    });
    EXPECT_FALSE(type_name_.empty()) << "the sample has no " << GetParam().path;
    return Check(*message);
  }
  Violations CheckWithNumber(double value) {
    return CheckChanged([value](const FieldPlace& place) { place.SetNumber(value); });
  }

  std::string type_name_;    // "Body.mass_kg"
  std::string number_path_;  // "body.inertia_kg_m2[0]"
};

TEST(SampleTest, PassesItsCheck) {
  for (const What what :
       {What::kRobot, What::kLayeredRobot, What::kSurface, What::kAdvanceOrder, What::kHopOrder}) {
    EXPECT_THAT(ToStatus(Check(*Sample(what))), test::IsOk());
  }
}

using MissingFieldTest = FieldTest;
TEST_P(MissingFieldTest, IsNamedWhenRequired) {
  static const std::set<std::string> kRequired = {
      "Robot.name",
      "Robot.body",
      "Robot.leg_controller",
      "Body.mass_kg",
      "Body.inertia_kg_m2",
      "Leg.name",
      "Leg.lumped",
      "LumpedLeg.foot_m",
      "LumpedLeg.foot_mass_kg",
      "LumpedLeg.lift",
      "LumpedLeg.swing",
      "LegCoordinate.direction_ratio",
      "LegCoordinate.transmission_ratio",
      "Bimorph.gain_n_per_v",
      "Bimorph.max_v",
      "Bimorph.bias_v",
      "Bimorph.slew_v_per_s",
      "BimorphLayers.length_m",
      "BimorphLayers.width_m",
      "BimorphLayers.piezo_thickness_m",
      "BimorphLayers.shim_modulus_pa",
      "BimorphLayers.piezo_modulus_pa",
      "BimorphLayers.charge_constant_m_per_v",
      "BimorphLayers.wiring",
      "BodyFoot.name",
      "BodyFoot.point_m",
      "RobotUncertainty.mass_ratio",
      "RobotUncertainty.stiffness_ratio",
      "RobotUncertainty.gain_ratio",
      "Surface.name",
      "Surface.friction_coefficient",
      "GaitOrder.robot",
      "GaitOrder.surface",
      "GaitOrder.stride_frequency_hz",
      "GaitOrder.task",
      "Task.advance",
      "Task.hop",
      "Advance.advance_m",
      "Hop.rise_m",
  };
  const Violations violations = CheckChanged([](const FieldPlace& place) { place.Clear(); });
  const bool is_hop_frequency =
      GetParam().what == What::kHopOrder && type_name_ == "GaitOrder.stride_frequency_hz";
  if (GetParam().what == What::kLayeredRobot && type_name_ == "Bimorph.layers") {
    ExpectFault(violations, "legs[0].lumped.lift.bimorph.gain_n_per_v", "missing");
    return;
  }
  if (GetParam().what == What::kLayeredRobot && type_name_ == "BimorphLayers.shim_thickness_m") {
    ExpectFault(violations, "legs[0].lumped.lift.bimorph.layers.shim_modulus_pa", "1.1e+11");
    return;
  }
  if (kRequired.count(type_name_) == 0 || is_hop_frequency) {
    EXPECT_THAT(ToStatus(violations), test::IsOk());
    return;
  }
  // A oneof is named, not one of its forms.
  std::string path = GetParam().path;
  for (const auto& [form, oneof] : {std::pair("lumped", "form"),
                                    std::pair("advance", "kind"),
                                    std::pair("hop", "kind"),
                                    std::pair("piezo_modulus_pa", "piezo_elasticity")}) {
    const std::string end = std::string(".") + form;
    if (path.size() > end.size() && path.compare(path.size() - end.size(), end.size(), end) == 0) {
      path = path.substr(0, path.size() - end.size()) + "." + oneof;
    }
  }
  ExpectFault(violations, path, "missing");
}
INSTANTIATE_TEST_SUITE_P(All, MissingFieldTest, testing::ValuesIn(AllCases()), CaseName);

using NumberFieldTest = FieldTest;
TEST_P(NumberFieldTest, RejectsNan) {
  const Violations violations = CheckWithNumber(std::nan(""));
  ExpectFault(violations, number_path_, "nan");
}
TEST_P(NumberFieldTest, RejectsInfinity) {
  const Violations violations = CheckWithNumber(std::numeric_limits<double>::infinity());
  ExpectFault(violations, number_path_, "inf");
}
TEST_P(NumberFieldTest, RejectsWhatIsFarAboveItsRange) {
  const Violations violations = CheckWithNumber(1e12);
  ExpectFault(violations, number_path_, "1e+12");
}
TEST_P(NumberFieldTest, RejectsWhatIsFarBelowItsRange) {
  const Violations violations = CheckWithNumber(-1e12);
  ExpectFault(violations, number_path_, "-1e+12");
}
TEST_P(NumberFieldTest, RejectsANegativeValueUnlessItHasASense) {
  static const std::set<std::string> kSigned = {
      "Body.center_of_mass_m",
      "LumpedLeg.foot_m",
      "LegCoordinate.min_m",
      "LegCoordinate.transmission_ratio",
      "Bimorph.min_v",
      "BodyFoot.point_m",
      "Advance.advance_m",
      "Advance.sidestep_m",
      "Advance.turn_rad",
      "Hop.advance_m",
  };
  // Not 0, and small enough for every range that has a negative part. A transmission as small as
  // that would make too great a force.
  const bool is_transmission = GetParam().path.find("transmission") != std::string::npos;
  const Violations violations = CheckWithNumber(is_transmission ? -8.0 : -0.0625);
  if (kSigned.count(type_name_) != 0) {
    EXPECT_THAT(ToStatus(violations), test::IsOk());
  } else if (type_name_ == "LegCoordinate.direction_ratio") {
    EXPECT_NE(FindFault(violations, GetParam().path), nullptr);  // no longer a unit vector
  } else {
    ExpectFault(violations, number_path_, "-0.0625");
  }
}
TEST_P(NumberFieldTest, TellsItsUnit) {
  const Violations violations = CheckWithNumber(1e12);
  const v1::FieldViolation* fault = FindFault(violations, number_path_);
  ASSERT_NE(fault, nullptr);
  const Unit* unit = FindUnit(type_name_);
  ASSERT_NE(unit, nullptr);
  EXPECT_THAT(fault->problem(), testing::HasSubstr(std::string(unit->symbol)));
  EXPECT_THAT(fault->mend(), testing::StartsWith("give "));
}
INSTANTIATE_TEST_SUITE_P(All, NumberFieldTest, testing::ValuesIn(NumberCases()), CaseName);

using ChoiceFieldTest = FieldTest;
TEST_P(ChoiceFieldTest, RejectsAnUnknownNumber) {
  const Violations violations = CheckChanged([](const FieldPlace& place) {
    place.owner->GetReflection()->SetEnumValue(place.owner, place.field, 77);
  });
  ExpectFault(violations, GetParam().path, "77");
}
INSTANTIATE_TEST_SUITE_P(All, ChoiceFieldTest, testing::ValuesIn(ChoiceCases()), CaseName);

using NameFieldTest = FieldTest;
TEST_P(NameFieldTest, RejectsWhatIsNoName) {
  for (const std::string& name : {std::string("Front"),
                                  std::string("1front"),
                                  std::string("front left"),
                                  std::string("-front"),
                                  std::string("front_left"),
                                  std::string("../front"),
                                  std::string(64, 'a')}) {
    const Violations violations = CheckChanged([&name](const FieldPlace& place) {
      place.owner->GetReflection()->SetString(place.owner, place.field, name);
    });
    ExpectFault(violations, GetParam().path, "\"" + name + "\"");
  }
}
TEST_P(NameFieldTest, AcceptsSixtyThreeLetters) {
  const Violations violations = CheckChanged([](const FieldPlace& place) {
    place.owner->GetReflection()->SetString(place.owner, place.field, std::string(63, 'a'));
  });
  EXPECT_THAT(ToStatus(violations), test::IsOk());
}
INSTANTIATE_TEST_SUITE_P(All, NameFieldTest, testing::ValuesIn(NameCases()), CaseName);

class WholeMessageTest : public testing::TestWithParam<What> {};
TEST_P(WholeMessageTest, TellsAllFaultsAtOnce) {
  const std::unique_ptr<Message> message = Sample(GetParam());
  std::vector<std::string> paths;
  test::VisitFields(message.get(), "", [&](const FieldPlace& place) {
    const bool is_other_form = place.field->real_containing_oneof() != nullptr &&
                               !place.owner->GetReflection()->HasField(*place.owner, place.field);
    if (place.is_number() && !is_other_form) {
      place.SetNumber(std::nan(""));
      paths.push_back(place.number_path());
    }
  });
  ASSERT_FALSE(paths.empty());
  const Violations violations = Check(*message);
  for (const std::string& path : paths) {
    ExpectFault(violations, path, "nan");
  }
  const std::string text(ToStatus(violations).message());
  for (const std::string& path : paths) {
    EXPECT_THAT(text, testing::HasSubstr(path + " is nan; "));
  }
}
INSTANTIATE_TEST_SUITE_P(All,
                         WholeMessageTest,
                         testing::Values(What::kRobot,
                                         What::kLayeredRobot,
                                         What::kSurface,
                                         What::kAdvanceOrder,
                                         What::kHopOrder));

}  // namespace
}  // namespace gaitshelf::solver
