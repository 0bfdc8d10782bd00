#include "solver/robot/rules.h"

#include <fstream>
#include <map>
#include <regex>
#include <set>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"
#include "gaitshelf/v1/task.pb.h"

#include "tests/support/paths.h"

namespace gaitshelf::solver {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::FieldDescriptor;

// Gathers a type and the types of its parts.
void Gather(const Descriptor* type, std::set<const Descriptor*>* types) {
  if (!types->insert(type).second) {
    return;
  }
  for (int i = 0; i < type->field_count(); ++i) {
    if (const Descriptor* part = type->field(i)->message_type(); part != nullptr) {
      Gather(part, types);
    }
  }
}

std::set<const FieldDescriptor*> AllFields() {
  std::set<const Descriptor*> types;
  Gather(v1::Robot::descriptor(), &types);
  Gather(v1::Surface::descriptor(), &types);
  Gather(v1::GaitOrder::descriptor(), &types);
  std::set<const FieldDescriptor*> fields;
  for (const Descriptor* type : types) {
    for (int i = 0; i < type->field_count(); ++i) {
      fields.insert(type->field(i));
    }
  }
  return fields;
}

bool Fits(FieldKind kind, const FieldDescriptor& field) {
  const auto type = field.cpp_type();
  switch (kind) {
    case FieldKind::kNumber:
      return !field.is_repeated() &&
             (type == FieldDescriptor::CPPTYPE_DOUBLE || type == FieldDescriptor::CPPTYPE_INT32);
    case FieldKind::kNumbers:
      return field.is_repeated() && type == FieldDescriptor::CPPTYPE_DOUBLE;
    case FieldKind::kName:
    case FieldKind::kLine:
    case FieldKind::kDate:
      return !field.is_repeated() && type == FieldDescriptor::CPPTYPE_STRING;
    case FieldKind::kChoice:
      return !field.is_repeated() &&
             (type == FieldDescriptor::CPPTYPE_ENUM || type == FieldDescriptor::CPPTYPE_BOOL);
    case FieldKind::kPart:
      return !field.is_repeated() && type == FieldDescriptor::CPPTYPE_MESSAGE;
    case FieldKind::kNames:
      return field.is_repeated() && type == FieldDescriptor::CPPTYPE_STRING;
    case FieldKind::kParts:
      return field.is_repeated() && type == FieldDescriptor::CPPTYPE_MESSAGE;
  }
  return false;
}

TEST(RulesTest, CoverEveryFieldOfRobotSurfaceAndOrder) {
  for (const FieldDescriptor* field : AllFields()) {
    const FieldRule* rule = FindRule(*field);
    ASSERT_NE(rule, nullptr) << field->full_name() << " has no line in rules.cc";
    EXPECT_TRUE(Fits(rule->kind, *field)) << field->full_name();
  }
}

TEST(RulesTest, GiveEveryFloatingPointFieldAFiniteRangeAndAUnit) {
  for (const FieldDescriptor* field : AllFields()) {
    if (field->cpp_type() != FieldDescriptor::CPPTYPE_DOUBLE) {
      continue;
    }
    const FieldRule* rule = FindRule(*field);
    ASSERT_NE(rule, nullptr);
    EXPECT_LT(rule->lower, rule->upper) << field->full_name();
    EXPECT_LT(rule->upper, 1e13) << field->full_name();
    EXPECT_GT(rule->lower, -1e10) << field->full_name();
    EXPECT_NE(FindUnit(field->name()), nullptr) << field->full_name();
  }
}

// Comments of the fields in a file of proto/gaitshelf/v1, by "Message.field".
std::map<std::string, std::string> FieldComments(const std::string& file) {
  std::ifstream stream(test::SourcePath("proto/gaitshelf/v1/" + file));
  const std::regex message_line(R"(^message (\w+) \{)");
  const std::regex field_line(R"(^ +(?:repeated |optional )?\w+ (\w+) = \d+;)");
  std::map<std::string, std::string> comments;
  std::string message;
  std::string comment;
  std::smatch match;
  for (std::string line; std::getline(stream, line);) {
    if (line.find("//") != std::string::npos) {
      comment += line.substr(line.find("//") + 2);
      continue;
    }
    if (std::regex_search(line, match, message_line)) {
      message = match[1];
    } else if (std::regex_search(line, match, field_line)) {
      comments[message + "." + std::string(match[1])] = comment;
    }
    comment.clear();
  }
  return comments;
}

std::vector<double> NumbersIn(const std::string& text) {
  const std::regex number(R"(-?\b\d+(?:\.\d+)?(?:e-?\d+)?)");
  std::vector<double> numbers;
  for (auto i = std::sregex_iterator(text.begin(), text.end(), number); i != std::sregex_iterator();
       ++i) {
    numbers.push_back(std::stod(i->str()));
  }
  return numbers;
}

// The reader of proto/ must find the ranges that the check enforces.
TEST(RulesTest, AgreeWithTheRangesInTheComments) {
  // These say it in other words: a unit vector; a size either way; 2^31 - 1; inside min_v to max_v;
  // min_m and max_m end at 0, which check_leg.cc sees to.
  const std::set<std::string> other_words = {"LegCoordinate.direction_ratio",
                                             "LegCoordinate.transmission_ratio",
                                             "LegCoordinate.min_m",
                                             "LegCoordinate.max_m",
                                             "LinkageCoordinate.min_rad",
                                             "LinkageCoordinate.max_rad",
                                             "LinkageDrive.direction_ratio",
                                             "Flexure.axis_ratio",
                                             "ClosingFlexure.axis_ratio",
                                             "Bimorph.bias_v",
                                             "PlanOptions.rng"};
  std::map<std::string, std::string> comments;
  for (const char* file : {"robot.proto", "surface.proto", "task.proto"}) {
    comments.merge(FieldComments(file));
  }
  int count = 0;
  for (const FieldDescriptor* field : AllFields()) {
    const FieldRule* rule = FindRule(*field);
    ASSERT_NE(rule, nullptr);
    const bool has_range = rule->kind == FieldKind::kNumber || rule->kind == FieldKind::kNumbers;
    if (!has_range || other_words.count(std::string(rule->field)) != 0) {
      continue;
    }
    const std::string& comment = comments[std::string(rule->field)];
    EXPECT_THAT(NumbersIn(comment), testing::Contains(rule->lower)) << rule->field << comment;
    EXPECT_THAT(NumbersIn(comment), testing::Contains(rule->upper)) << rule->field << comment;
    if (rule->is_lower_open) {
      EXPECT_THAT(comment, testing::HasSubstr("more than 0")) << rule->field;
    }
    ++count;
  }
  EXPECT_GT(count, 30);
}

TEST(UnitTest, IsTheLongestSuffix) {
  EXPECT_EQ(FindUnit("inertia_kg_m2")->symbol, "kg m^2");
  EXPECT_EQ(FindUnit("damping_n_s_per_m")->symbol, "N s/m");
  EXPECT_EQ(FindUnit("lift_rate_gain_v_s_per_m")->symbol, "V s/m");
  EXPECT_EQ(FindUnit("lift_gain_v_per_m")->symbol, "V/m");
  EXPECT_EQ(FindUnit("foot_m")->symbol, "m");
  EXPECT_EQ(FindUnit("title"), nullptr);
}

TEST(RangeTextTest, SaysOpenAndClosedEnds) {
  const auto* mass = v1::Body::descriptor()->FindFieldByName("mass_kg");
  EXPECT_EQ(RangeText(*FindRule(*mass)), "must be more than 0 and at most 10 kg");
  EXPECT_EQ(MendText(*FindRule(*mass)), "give kilograms: 1.9 g is 0.0019");
  const auto* foot = v1::LumpedLeg::descriptor()->FindFieldByName("foot_m");
  EXPECT_EQ(RangeText(*FindRule(*foot)), "must be 3 numbers, each at least -1 and at most 1 m");
  const auto* gain = v1::LegController::descriptor()->FindFieldByName("hop_gain_ratio");
  EXPECT_EQ(RangeText(*FindRule(*gain)), "must be more than 0 and at most 1, or left out");
}

}  // namespace
}  // namespace gaitshelf::solver
