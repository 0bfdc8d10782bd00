#include "solver/robot/rules.h"

#include <set>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"
#include "gaitshelf/v1/task.pb.h"

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
      return !field.is_repeated() && type == FieldDescriptor::CPPTYPE_ENUM;
    case FieldKind::kPart:
      return !field.is_repeated() && type == FieldDescriptor::CPPTYPE_MESSAGE;
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
    EXPECT_LT(rule->upper, 1e10) << field->full_name();
    EXPECT_GT(rule->lower, -1e10) << field->full_name();
    EXPECT_NE(FindUnit(field->name()), nullptr) << field->full_name();
  }
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
