#include "tests/bench/orders.h"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <random>
#include <sstream>
#include <vector>

#include <google/protobuf/descriptor.h>
#include <google/protobuf/message.h>

#include "absl/strings/match.h"
#include "absl/strings/str_format.h"
#include "solver/leg/standing.h"
#include "solver/replay/replay_model.h"
#include "solver/robot/draw.h"
#include "solver/robot/read.h"

namespace gaitshelf::bench {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;
using google::protobuf::Reflection;

constexpr double kLeastFactor = 0.75;
constexpr double kMostFactor = 1.25;
constexpr double kLeastShare = 0.2;
constexpr double kMostShare = 0.95;
constexpr double kLeastFrequencyHz = 1.0;
constexpr double kMostFrequencyHz = 40.0;
constexpr double kHopShare = 0.2;
constexpr const char* kRobots[] = {"weevil", "weevil-lumped", "earwig"};

// std's distributions differ between libraries; this does not.
double Even(std::mt19937* generator, double lower, double upper) {
  return lower + (upper - lower) * static_cast<double>((*generator)()) / 4294967296.0;
}

struct Factors {
  double mass = 1.0;
  double stiffness = 1.0;
  double gain = 1.0;
  double length = 1.0;
  double damping = 1.0;
};

double FactorOf(const FieldDescriptor& field, const Factors& factors) {
  const std::string& name = field.name();
  const auto ends = [&name](const char* suffix) { return absl::EndsWith(name, suffix); };
  if (field.containing_type()->name() == "FlexureFilm") {
    return ends("_pa") ? factors.stiffness : 1.0;
  }
  if (ends("_kg_m2")) {
    return factors.mass * factors.length * factors.length;
  }
  if (ends("_kg")) {
    return factors.mass;
  }
  if (ends("_n_s_per_m") || ends("damping_s")) {
    return factors.damping;
  }
  if (ends("_n_per_m") || ends("_n_m_per_rad")) {
    return factors.stiffness;
  }
  if (ends("_n_per_v")) {
    return factors.gain;
  }
  return ends("_m") && !ends("_per_m") ? factors.length : 1.0;
}

// NOLINTNEXTLINE(misc-no-recursion): as deep as message types, which do not refer to themselves.
void ScaleAll(const Factors& factors, Message* message) {
  const Reflection& reflection = *message->GetReflection();
  std::vector<const FieldDescriptor*> fields;
  reflection.ListFields(*message, &fields);
  for (const FieldDescriptor* field : fields) {
    if (field->cpp_type() == FieldDescriptor::CPPTYPE_DOUBLE) {
      solver::ScaleNumbers(*field, FactorOf(*field, factors), message);
    } else if (field->cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE) {
      const int count = field->is_repeated() ? reflection.FieldSize(*message, field) : 1;
      for (int i = 0; i < count; ++i) {
        ScaleAll(factors,
                 field->is_repeated() ? reflection.MutableRepeatedMessage(message, field, i)
                                      : reflection.MutableMessage(message, field));
      }
    }
  }
}

v1::Robot ReadDemoRobot(const std::string& name) {
  std::ifstream file(GAITSHELF_SOURCE_DIR "/deploy/demo/" + name + ".robot.textproto");
  std::stringstream text;
  text << file.rdbuf();
  return solver::ReadRobotText(text.str()).value();
}

// Rise that the lift drives' work over the whole lift travel allows: what their greatest force does
// along it, less the weight's share, over the weight.
double HopReach(const solver::RobotModel& model) {
  const double weight = model.total_mass() * model.gravity().norm();
  const auto standing = solver::FindStanding(model, solver::FootCondition::kSliding);
  if (!standing.ok()) {
    return 0.0;
  }
  const double spare = solver::LiftMargin(model, *standing, 1.0);
  // Standing takes the share 1 - spare of the drives.
  const double force = weight / std::max(1.0 - spare, 0.05);
  double travel = 1e9;
  for (size_t i = 0; i < model.travels().size(); i += 2) {
    travel = std::min(travel, model.travels()[i].upper - model.travels()[i].lower);
  }
  return std::max(0.0, travel * (force / weight - 1.0));
}

}  // namespace

DrawnOrder DrawOrder(int rng, int index) {
  std::seed_seq seed{rng, index};
  std::mt19937 generator(seed);
  DrawnOrder drawn;
  solver::PlanRequest& request = drawn.request;
  const std::string name = kRobots[generator() % std::size(kRobots)];
  request.robot = ReadDemoRobot(name);
  Factors factors;
  for (double* factor :
       {&factors.mass, &factors.stiffness, &factors.gain, &factors.length, &factors.damping}) {
    *factor = Even(&generator, kLeastFactor, kMostFactor);
  }
  ScaleAll(factors, &request.robot);
  request.surface.set_name("drawn");
  request.surface.set_friction_coefficient(Even(&generator, 0.1, 1.0));
  const double frequency_hz =
      std::exp(Even(&generator, std::log(kLeastFrequencyHz), std::log(kMostFrequencyHz)));
  const bool is_hop = Even(&generator, 0.0, 1.0) < kHopShare;
  const double share = Even(&generator, kLeastShare, kMostShare);
  request.order.set_robot(request.robot.name());
  request.order.set_surface("drawn");
  request.order.mutable_options()->set_rng(rng);
  const solver::RobotModel model =
      solver::CreateReplayModel(request.robot, request.surface).value();
  double size_m = 0.0;
  if (is_hop) {
    size_m = share * HopReach(model) * model.scale().length_m;
    request.order.mutable_task()->mutable_hop()->set_rise_m(size_m);
  } else {
    request.order.set_stride_frequency_hz(std::round(1e3 * frequency_hz) * 1e-3);
    size_m = share * solver::AdvanceReach(model, 0.5) * model.scale().length_m;
    request.order.mutable_task()->mutable_advance()->set_advance_m(size_m);
  }
  drawn.label = absl::StrFormat(
      "%s %s %.2f mm (%.0f %%) at %.2f Hz, friction %.2f; mass %.2f stiffness %.2f gain %.2f "
      "length %.2f damping %.2f",
      name,
      is_hop ? "hop" : "advance",
      1e3 * size_m,
      100.0 * share,
      request.order.stride_frequency_hz(),
      request.surface.friction_coefficient(),
      factors.mass,
      factors.stiffness,
      factors.gain,
      factors.length,
      factors.damping);
  return drawn;
}

}  // namespace gaitshelf::bench
