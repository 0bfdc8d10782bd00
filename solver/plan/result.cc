#include "solver/plan/result.h"

#include <algorithm>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_join.h"
#include "solver/plan/evaluation.h"

namespace gaitshelf::solver {
namespace {

// A foot counts as in contact above this share of the weight: the smoothed law leaves a trace of
// force in flight.
constexpr double kContactForce = 0.01;

// How many of the most used limits a reason names.
constexpr size_t kLimitsToName = 3;

struct LimitUse {
  int knots = 0;
  std::string what;
};

void Append(const Eigen::VectorXd& values,
            double factor,
            google::protobuf::RepeatedField<double>* out) {
  for (const double value : values) {
    out->Add(value * factor);
  }
}

// Column whose controls stand for knot k: an open problem has none at its ends.
int ControlKnot(const PlanProblem& problem, int k) {
  return std::clamp(k, problem.first_free_knot(), problem.end_free_knot() - 1);
}

void FillControls(const PlanProblem& problem, const PlanUnknowns& unknowns, int k, v1::Gait* gait) {
  const RobotModel& model = *problem.model;
  const int from = ControlKnot(problem, k);
  for (Eigen::Index d = 0; d < problem.drive_count(); ++d) {
    const Drive& drive = model.drives()[static_cast<size_t>(d)];
    const double voltage = drive.is_present
                               ? drive.bias_v + drive.half_range_v * unknowns.controls(d, from)
                               : drive.bias_v;
    gait->add_voltage_v(voltage);
    gait->mutable_report()->set_peak_voltage_v(std::max(gait->report().peak_voltage_v(), voltage));
  }
  for (Eigen::Index i = 0; i < problem.foot_count(); ++i) {
    const Eigen::Index at = problem.foot_control(i);
    const Eigen::Vector3d force(unknowns.controls(at + 1, from),
                                unknowns.controls(at + 2, from),
                                unknowns.controls(at, from));
    Append(force, model.scale().force_n(), gait->mutable_foot_force_n());
  }
}

void FillFootfalls(const PlanProblem& problem, const PlanUnknowns& unknowns, v1::Gait* gait) {
  PlanEvaluation evaluation(&problem, &unknowns);
  constexpr double kAnySmoothing = 1e-3;  // the laws' values are not read here
  evaluation.Update(kAnySmoothing, false);
  for (Eigen::Index i = 0; i < problem.foot_count(); ++i) {
    int touchdowns = 0;
    double slip = 0.0;
    bool was_down = true;
    for (int k = problem.first_free_knot(); k < problem.end_free_knot(); ++k) {
      if (k == problem.first_free_knot() && problem.is_periodic) {
        was_down = evaluation.FootForce(problem.knot_count - 1, i).z() > kContactForce;
      }
      const bool is_down = evaluation.FootForce(k, i).z() > kContactForce;
      touchdowns += is_down && !was_down ? 1 : 0;
      slip += is_down ? evaluation.SlidingVelocity(k, i).norm() * problem.knot_period : 0.0;
      was_down = is_down;
    }
    gait->mutable_report()->add_touchdown_count(touchdowns);
    gait->mutable_report()->add_slip_m(slip * problem.model->scale().length_m);
  }
}

}  // namespace

void FillTrajectory(const PlanProblem& problem,
                    const PlanUnknowns& unknowns,
                    const v1::Robot& robot,
                    v1::Gait* gait) {
  const RobotModel& model = *problem.model;
  const double length = model.scale().length_m;
  gait->set_is_periodic(problem.is_periodic);
  gait->set_knot_count(problem.knot_count);
  gait->set_knot_period_s(problem.knot_period * model.scale().time_s);
  gait->set_coordinate_count(static_cast<int>(model.mechanism_coordinate_count()));
  gait->set_loop_equation_count(static_cast<int>(model.loop_equation_count()));
  gait->set_compile_error_ratio(model.compile_error_ratio());
  // A stand goes nowhere; what its held stride has of round-off is no displacement.
  const bool is_still =
      problem.is_periodic && problem.stride_target == 0.0 && problem.Motion(0.0).is_straight();
  gait->set_advance_m(is_still              ? 0.0
                      : problem.is_periodic ? unknowns.stride * length
                                            : (unknowns.coordinates(0, problem.knot_count - 1) -
                                               unknowns.coordinates(0, 0)) *
                                                  length);
  gait->set_sidestep_m(problem.sidestep * length);
  gait->set_turn_rad(problem.turn);
  for (const v1::Leg& leg : robot.legs()) {
    gait->add_leg_names(leg.name());
    gait->add_foot_names(leg.name());
  }
  for (const v1::BodyFoot& foot : robot.body_feet()) {
    gait->add_foot_names(foot.name());
  }
  FootKinematics foot;
  for (int k = 0; k < problem.knot_count; ++k) {
    const Eigen::VectorXd q = unknowns.coordinates.col(k);
    Append(q.head<3>(), length, gait->mutable_body_position_m());
    Append(q.segment<3>(3), 1.0, gait->mutable_body_attitude_rad());
    Append(q.tail(problem.drive_count()), length, gait->mutable_leg_position_m());
    FillControls(problem, unknowns, k, gait);
    for (Eigen::Index i = 0; i < problem.foot_count(); ++i) {
      model.EvaluateFoot(q, i, false, &foot);
      gait->add_foot_gap_m(foot.position.z() * length);
    }
  }
  FillFootfalls(problem, unknowns, gait);
}

std::string DescribeLimits(const PlanProblem& problem,
                           const PlanUnknowns& unknowns,
                           const v1::Robot& robot) {
  const RobotModel& model = *problem.model;
  std::vector<LimitUse> uses;
  const int count = problem.end_free_knot() - problem.first_free_knot();
  for (Eigen::Index d = 0; d < problem.drive_count(); ++d) {
    const Drive& drive = model.drives()[static_cast<size_t>(d)];
    const Travel& travel = model.travels()[static_cast<size_t>(d)];
    int at_voltage = 0;
    int at_travel = 0;
    for (int k = problem.first_free_knot(); k < problem.end_free_knot(); ++k) {
      const double u = unknowns.controls(d, k);
      const double y = unknowns.coordinates(model.base_count() + d, k);
      at_voltage += drive.is_present && (u > 0.99 * drive.upper || u < 0.99 * drive.lower) ? 1 : 0;
      at_travel += y > travel.upper - 1e-3 || y < travel.lower + 1e-3 ? 1 : 0;
    }
    const std::string name =
        absl::StrCat(robot.legs(static_cast<int>(d / 2)).name(), d % 2 == 0 ? " lift" : " swing");
    uses.push_back({at_voltage, name + " is at its voltage limit"});
    uses.push_back({at_travel, name + " is at the end of its travel"});
  }
  std::stable_sort(uses.begin(), uses.end(), [](const LimitUse& a, const LimitUse& b) {
    return a.knots > b.knots;
  });
  std::vector<std::string> binding;
  for (const LimitUse& use : uses) {
    if (use.knots > 0 && binding.size() < kLimitsToName) {
      binding.push_back(
          absl::StrFormat("%s for %.0f %% of the time", use.what, 100.0 * use.knots / count));
    }
  }
  return binding.empty() ? "no voltage or travel limit is reached; friction or balance binds"
                         : absl::StrJoin(binding, ", ");
}

}  // namespace gaitshelf::solver
