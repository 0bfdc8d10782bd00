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
#include "solver/leg/robot_model.h"
#include "solver/leg/standing.h"
#include "solver/replay/nearest_task.h"
#include "solver/replay/replay_model.h"
#include "solver/robot/draw.h"
#include "tests/bench/demo_robots.h"
#include "tests/support/paths.h"
#include "tests/support/read_description.h"

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
// Of the reach, what the outer feet of a turn go further than the body at most, and what a sidestep
// has at most: legs without a drive sideways sidestep by sliding.
constexpr double kMostTurnShare = 0.5;
constexpr double kMostSideShare = 0.1;
constexpr double kMostTurnRad = 0.5;

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
  std::ifstream file(test::SourcePath("deploy/demo/" + name + ".robot.textproto"));
  std::stringstream text;
  text << file.rdbuf();
  return test::ReadRobotText(text.str()).value();
}

// Least lift travel of the legs, whole or from the straight posture upwards or downwards.
struct LiftTravel {
  double whole = 1e9;
  double up = 1e9;    // of the foot: the body sinks
  double down = 1e9;  // of the foot: the body rises
};

LiftTravel LiftTravelOf(const solver::RobotModel& model) {
  LiftTravel travel;
  for (size_t i = 0; i < model.travels().size(); i += 2) {
    const solver::Travel& own = model.travels()[i];
    travel.whole = std::min(travel.whole, own.upper - own.lower);
    travel.up = std::min(travel.up, own.upper);
    travel.down = std::min(travel.down, -own.lower);
  }
  return travel;
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
  return std::max(0.0, LiftTravelOf(model).whole * (force / weight - 1.0));
}

// Distance that friction and swing travel allow a hop of this rise: pushed evenly over the lift
// travel, the body gains no more speed than friction gives it, nor goes further in the push than
// half of the swing travel.
double HopDistance(const solver::RobotModel& model, double rise, double friction) {
  const double gravity = model.gravity().norm();
  const double takeoff = std::sqrt(2.0 * gravity * rise);
  const double push = 2.0 * LiftTravelOf(model).whole / takeoff;
  const double flight = 2.0 * takeoff / gravity;
  const double most_speed =
      std::min(friction * (gravity * push + takeoff), solver::AdvanceReach(model, 1.0) / push);
  return most_speed * (flight + push);
}

// Farthest foot from the body's middle, along x and along y.
Eigen::Vector2d FeetHalfSpan(const solver::RobotModel& model) {
  Eigen::Vector2d span = Eigen::Vector2d::Zero();
  solver::FootKinematics foot;
  for (Eigen::Index i = 0; i < model.foot_count(); ++i) {
    model.EvaluateFoot(model.ReferencePosture(), i, false, &foot);
    span = span.cwiseMax(foot.position.head<2>().cwiseAbs());
  }
  return span;
}

double RoundedTo(double value, double unit) { return std::round(value / unit) * unit; }

// What draws a task, and what its size refers to.
struct TaskDraw {
  const solver::RobotModel& model;
  double friction = 0.0;
  double share = 0.0;
  std::mt19937* generator = nullptr;

  double Metres(double length) const { return RoundedTo(length * model.scale().length_m, 1e-6); }
};

void DrawCurve(const TaskDraw& draw, v1::Advance* advance) {
  const double reach = draw.share * solver::AdvanceReach(draw.model, 0.5);
  const double way = reach * (1.0 - Even(draw.generator, 0.0, kMostTurnShare));
  const double turn = std::min((reach - way) / FeetHalfSpan(draw.model).y(), kMostTurnRad) *
                      (Even(draw.generator, 0.0, 1.0) < 0.5 ? -1.0 : 1.0);
  const double sidestep = reach * Even(draw.generator, -kMostSideShare, kMostSideShare);
  const double kind = Even(draw.generator, 0.0, 1.0);
  advance->set_advance_m(draw.Metres(way));
  if (kind < 0.67) {
    advance->set_turn_rad(RoundedTo(turn, 1e-4));
  }
  if (kind > 0.33) {
    advance->set_sidestep_m(draw.Metres(sidestep));
  }
}

void DrawHopOver(const TaskDraw& draw, v1::Hop* hop) {
  const double angle = Even(draw.generator, 0.2, 1.2);
  const double rise = draw.share * std::cos(angle) * HopReach(draw.model);
  hop->set_rise_m(draw.Metres(rise));
  hop->set_advance_m(
      draw.Metres(draw.share * std::sin(angle) * HopDistance(draw.model, rise, draw.friction)));
}

// The share of the lift travel goes into height, roll and pitch by turns.
void DrawStand(const TaskDraw& draw, v1::Stand* stand) {
  const LiftTravel travel = LiftTravelOf(draw.model);
  const Eigen::Vector2d span = FeetHalfSpan(draw.model);
  const bool sinks = Even(draw.generator, 0.0, 1.0) < 0.5;
  const double tilt_share =
      Even(draw.generator, 0.0, 1.0) < 0.5 ? 0.0 : Even(draw.generator, 0.0, 0.5);
  const double room = draw.share * (sinks ? travel.up : travel.down);
  stand->set_height_m(draw.Metres((sinks ? -1.0 : 1.0) * (1.0 - tilt_share) * room));
  // A tilt raises the feet on one side by what it lowers them on the other.
  const double tilt = tilt_share * draw.share * std::min(travel.up, travel.down);
  const double angle = Even(draw.generator, -3.14159265, 3.14159265);
  stand->set_roll_rad(RoundedTo(tilt * std::sin(angle) / span.y(), 1e-4));
  stand->set_pitch_rad(RoundedTo(tilt * std::cos(angle) / span.x(), 1e-4));
}

// Draws the kind of task by a number within 0 to 1.
void DrawTask(const TaskDraw& draw, double kind, v1::Task* task) {
  if (kind < 0.1) {
    task->mutable_hop()->set_rise_m(draw.Metres(draw.share * HopReach(draw.model)));
  } else if (kind < 0.2) {
    DrawHopOver(draw, task->mutable_hop());
  } else if (kind < 0.3) {
    DrawStand(draw, task->mutable_stand());
  } else if (kind < 0.32) {
    task->mutable_advance()->set_is_maximal(true);
  } else if (kind < 0.5) {
    DrawCurve(draw, task->mutable_advance());
  } else {
    task->mutable_advance()->set_advance_m(
        draw.Metres(draw.share * solver::AdvanceReach(draw.model, 0.5)));
  }
}

std::string TaskText(const v1::Task& task) {
  return task.advance().is_maximal() ? "the farthest advance" : solver::DescribeTask(task);
}

}  // namespace

DrawnOrder DrawOrder(int rng, int index) {
  std::seed_seq seed{rng, index};
  std::mt19937 generator(seed);
  DrawnOrder drawn;
  solver::PlanRequest& request = drawn.request;
  const std::string name = kDemoRobots[generator() % std::size(kDemoRobots)];
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
  const double kind = Even(&generator, 0.0, 1.0);
  const double share = Even(&generator, kLeastShare, kMostShare);
  request.order.set_robot(request.robot.name());
  request.order.set_surface("drawn");
  request.order.mutable_options()->set_rng(rng);
  const solver::RobotModel model =
      solver::CreateReplayModel(request.robot, request.surface).value();
  const TaskDraw draw = {.model = model,
                         .friction = request.surface.friction_coefficient(),
                         .share = share,
                         .generator = &generator};
  DrawTask(draw, kind, request.order.mutable_task());
  if (request.order.task().has_advance()) {
    request.order.set_stride_frequency_hz(std::round(1e3 * frequency_hz) * 1e-3);
  }
  drawn.label = absl::StrFormat(
      "%s %s (%.0f %%) at %.2f Hz, friction %.2f; mass %.2f stiffness %.2f gain %.2f length %.2f "
      "damping %.2f",
      name,
      TaskText(request.order.task()),
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
