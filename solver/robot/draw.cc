#include "solver/robot/draw.h"

#include <algorithm>

#include <google/protobuf/descriptor.h>
#include <google/protobuf/message.h>

#include "absl/strings/match.h"
#include "solver/robot/bimorph.h"

namespace gaitshelf::solver {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;
using google::protobuf::Reflection;

// What a robot's numbers are commonly known to without further measurement: masses from a balance
// of parts, stiffnesses and gains from data sheets and dimensions (common practice, no source).
constexpr double kDefaultMassRatio = 0.02;
constexpr double kDefaultStiffnessRatio = 0.05;
constexpr double kDefaultGainRatio = 0.05;
// Keeps every factor above 0 for the greatest uncertainty that a description may state, 0.3.
constexpr double kCutoff = 3.0;

double DrawNormal(std::mt19937* generator) {
  return std::clamp(std::normal_distribution<double>()(*generator), -kCutoff, kCutoff);
}

// Factors of the numbers of one part.
struct Factors {
  double mass = 1.0;
  double stiffness = 1.0;
  double gain = 1.0;
};

double FactorOf(const FieldDescriptor& field, const Factors& factors) {
  const std::string& name = field.name();
  if (absl::EndsWith(name, "_kg") || absl::EndsWith(name, "_kg_m2")) {
    return factors.mass;
  }
  const bool is_stiffness = absl::EndsWith(name, "_n_per_m") || absl::EndsWith(name, "_pa") ||
                            absl::EndsWith(name, "_n_m_per_rad");
  if (is_stiffness && !absl::StartsWith(name, "stop_")) {
    return factors.stiffness;
  }
  return absl::EndsWith(name, "_n_per_v") ? factors.gain : 1.0;
}

// Message types do not refer to themselves, so the recursion is as deep as they are.
// NOLINTNEXTLINE(misc-no-recursion)
void DrawPart(const v1::RobotUncertainty& uncertainty, std::mt19937* generator, Message* part) {
  Factors factors;
  factors.mass += uncertainty.mass_ratio() * DrawNormal(generator);
  factors.stiffness += uncertainty.stiffness_ratio() * DrawNormal(generator);
  factors.gain += uncertainty.gain_ratio() * DrawNormal(generator);
  const Reflection& reflection = *part->GetReflection();
  // In the order of declaration, which the draws depend on; ListFields goes by number.
  for (int i = 0; i < part->GetDescriptor()->field_count(); ++i) {
    const FieldDescriptor& field = *part->GetDescriptor()->field(i);
    if (field.cpp_type() == FieldDescriptor::CPPTYPE_DOUBLE) {
      const double factor = FactorOf(field, factors);
      const bool is_given = field.is_repeated() || reflection.HasField(*part, &field);
      if (factor != 1.0 && is_given) {
        ScaleNumbers(field, factor, part);
      }
    } else if (field.cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE) {
      if (field.is_repeated()) {
        for (int k = 0; k < reflection.FieldSize(*part, &field); ++k) {
          DrawPart(uncertainty, generator, reflection.MutableRepeatedMessage(part, &field, k));
        }
      } else if (reflection.HasField(*part, &field)) {
        DrawPart(uncertainty, generator, reflection.MutableMessage(part, &field));
      }
    }
  }
}

}  // namespace

void ScaleNumbers(const FieldDescriptor& field, double factor, Message* message) {
  const Reflection& reflection = *message->GetReflection();
  if (!field.is_repeated()) {
    reflection.SetDouble(message, &field, factor * reflection.GetDouble(*message, &field));
    return;
  }
  for (int i = 0; i < reflection.FieldSize(*message, &field); ++i) {
    reflection.SetRepeatedDouble(
        message, &field, i, factor * reflection.GetRepeatedDouble(*message, &field, i));
  }
}

v1::RobotUncertainty StatedUncertainty(const v1::Robot& robot) {
  if (robot.has_uncertainty()) {
    return robot.uncertainty();
  }
  v1::RobotUncertainty uncertainty;
  uncertainty.set_mass_ratio(kDefaultMassRatio);
  uncertainty.set_stiffness_ratio(kDefaultStiffnessRatio);
  uncertainty.set_gain_ratio(kDefaultGainRatio);
  return uncertainty;
}

v1::Robot DrawRobot(const v1::Robot& robot, std::mt19937* generator) {
  // Gain and stiffness vary on their own, which the layers they may come from cannot say.
  v1::Robot drawn = WithoutLayers(robot);
  DrawPart(StatedUncertainty(robot), generator, &drawn);
  return drawn;
}

v1::Surface DrawSurface(const v1::Surface& surface, std::mt19937* generator) {
  v1::Surface drawn = surface;
  const double change = surface.friction_uncertainty_coefficient() * DrawNormal(generator);
  drawn.set_friction_coefficient(std::max(0.0, surface.friction_coefficient() + change));
  return drawn;
}

}  // namespace gaitshelf::solver
