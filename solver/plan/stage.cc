#include "solver/plan/stage.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <random>
#include <vector>

#include "solver/leg/plane.h"
#include "solver/leg/standing.h"
#include "solver/plan/seed.h"

namespace gaitshelf::solver {
namespace {

// Speed scale of friction in a hop, in sqrt(leg length * gravity): no stride gives one.
constexpr double kHopSpeedScale = 0.7;
// Speed scale of friction over the mean speed of an advance.
constexpr double kStrideSpeedRatio = 5.0;
// Smallest mean speed that sets the scale, in sqrt(leg length * gravity).
constexpr double kLeastSpeed = 0.02;
// Second differences are weighed in units of the stride: these times (cycle time)^2. Found by
// trial: of the values at which each foot lands once a cycle in plan and replay, those with the
// least sliding in the replay. A slow trot of many legs needs no more than the first.
constexpr double kSlowTrotAccelerationWeight = 1e-4;
constexpr double kTrotAccelerationWeight = 8e-4;
// A walk unloads its feet for longer and chatters more easily.
constexpr double kWalkAccelerationWeight = 1e-3;
constexpr double kHopAccelerationWeight = 3e-3;
// A force left over, small beside the weight, moves a light leg by more in a knot of a stand, which
// is long, than in one of a stride.
constexpr double kStandTolerance = 1e-7;
// Below this a plan is solved on fine knots at once: slow strides do not chatter.
constexpr double kSlowStrideHz = 6.0;
constexpr int kSlowKnots = 120;
constexpr int kCoarseKnots = 40;
constexpr int kFineKnots = 80;
constexpr int kHopKnots = 160;
constexpr int kStandKnots = 16;
constexpr int kHopIterationsPerRound = 30;

// The complementary products at a solution are smoothing^2 times the scales; keeps the friction
// power below tolerance.
double LastSmoothing(const ContactScale& contact) {
  constexpr double kProduct = 4e-7;
  return std::min(1e-3, std::sqrt(kProduct / (contact.force * contact.speed)));
}

// A foot that sticks near the edge of its cone creeps by the smoothing; on a surface of more
// friction the same creep is a sliding that lacks force. With this the demonstration's robot has
// residuals below 5e-7 on all its surfaces, whose coefficients are 0.18 to 0.85.
constexpr double kStickingSmoothing = 2e-4;
constexpr double kStickingPenaltyRatio = 1.0;

void PerturbSeed(const Attempt& attempt, const v1::GaitOrder& order, SeedParameters* seed) {
  const int rng = order.options().rng();
  const double spread = std::max(attempt.seed_spread, rng == 0 ? 0.0 : 0.03);
  if (spread == 0.0) {
    return;
  }
  std::mt19937 generator(static_cast<unsigned>(rng * 16 + attempt.rung));
  std::uniform_real_distribution<double> uniform(-1.0, 1.0);
  seed->duty = std::clamp(seed->duty * (1.0 + spread * uniform(generator)), 0.3, 0.9);
  seed->clearance *= 1.0 + spread * uniform(generator);
  // The height is touchy: a hundredth of it is a tenth of the lift travel.
  seed->body_height *= 1.0 + 0.2 * spread * uniform(generator);
}

RoundSchedule MakeSchedule(const Attempt& attempt,
                           const ContactScale& contact,
                           bool is_refinement) {
  RoundSchedule schedule;
  schedule.iterations_per_round = attempt.iterations_per_round;
  schedule.smoothing_factor = attempt.smoothing_factor;
  schedule.last_penalty = attempt.last_penalty;
  schedule.last_smoothing = LastSmoothing(contact);
  if (is_refinement) {
    schedule.first_smoothing = 0.03;
    schedule.first_penalty = 10.0;
  }
  return schedule;
}

// A cycle longer than this, in units of sqrt(height / gravity), is slow: the half of it that a trot
// of four legs spends on two feet is several times what the body needs to tip. Found by trial: with
// it plans replay at 3 Hz that dragged their swinging feet before.
constexpr double kSlowPeriod = 5.0;
// Legs that a trot needs to stand on three feet at any time.
constexpr Eigen::Index kSteadyTrotLegs = 6;

// A walk left to least effort stands on two feet and lets the others hover. The replay, which
// nothing balances, tips over that diagonal by several hundredths of a rad more than planned, and
// swinging feet drag. With this share of an even load asked of every standing foot the third foot
// catches the body; with more, feet drag at the ends of their stance. Found by trial on drawn
// robots at 1 to 4 Hz, whose feet then slide no more in their swing.
constexpr double kSteadyLoad = 0.1;
constexpr double kSteadySlipWeight = 6.0;

double AccelerationWeight(v1::SeedPattern pattern, double stride_frequency_hz) {
  if (pattern == v1::SEED_PATTERN_WALK) {
    return kWalkAccelerationWeight;
  }
  return stride_frequency_hz < kSlowStrideHz ? kSlowTrotAccelerationWeight
                                             : kTrotAccelerationWeight;
}

// How far a cycle moves the feet on the whole.
double WayOf(const PlanarMotion& motion, const RobotModel& model) {
  return std::hypot(std::hypot(motion.advance, motion.sidestep), motion.turn * TurnLever(model));
}

void SetUpAdvance(const v1::GaitOrder& order, const Attempt& attempt, Stage* stage) {
  PlanProblem& problem = stage->problem;
  const RobotModel& model = *problem.model;
  const double period = 1.0 / (order.stride_frequency_hz() * model.scale().time_s);
  problem.knot_period = period / problem.knot_count;
  const v1::SeedPattern pattern = ChoosePattern(model, order);
  SeedParameters seed = DefaultSeed(model, pattern);
  const v1::Advance& advance = order.task().advance();
  problem.stride_target = advance.is_maximal()
                              ? attempt.reach_ratio * AdvanceReach(model, seed.duty)
                              : advance.advance_m() / model.scale().length_m;
  problem.sidestep = advance.sidestep_m() / model.scale().length_m;
  problem.turn = advance.turn_rad();
  const double way = WayOf(problem.Motion(problem.stride_target), model);
  problem.contact.speed = std::max(kStrideSpeedRatio * way / period, kLeastSpeed);
  problem.weights.acceleration =
      AccelerationWeight(pattern, order.stride_frequency_hz()) * period * period;
  if (attempt.steady_duty > 0.0) {
    seed.duty = attempt.steady_duty;
    seed.asked_load = kSteadyLoad;
    problem.weights.slip = kSteadySlipWeight;
  }
  PerturbSeed(attempt, order, &seed);
  seed.clearance *= attempt.demand_ratio;
  SeedAdvance(seed, &problem, &stage->unknowns);
}

void SetUpHop(const v1::GaitOrder& order, Stage* stage) {
  PlanProblem& problem = stage->problem;
  const RobotModel& model = *problem.model;
  const double length_m = model.scale().length_m;
  const HopAim aim = {order.task().hop().rise_m() / length_m,
                      order.task().hop().advance_m() / length_m};
  const HopTiming timing = TimeHop(model, aim.rise);
  problem.is_periodic = false;
  problem.knot_period = timing.total() / (problem.knot_count - 2);
  problem.contact.speed = kHopSpeedScale;
  problem.weights.acceleration = kHopAccelerationWeight;
  // Feet of a linkage rise on an arc: under a body that goes straight up and down they must slide,
  // on both sides alike. A high price on that is paid in hops from foot to foot; a low one still
  // keeps straight feet where they are.
  problem.weights.slip = 0.2;
  // Held nearer to its seed than a stride: a landing has many ways to bounce.
  problem.weights.height = 0.3;
  problem.weights.legs = 0.3;
  SeedHop(timing, aim, &problem, &stage->unknowns);
}

// A stand is a cycle that goes nowhere: long enough that a body which tips is seen to tip when its
// cycles are replayed, on as many knots as make a plan.
void SetUpStand(const v1::GaitOrder& order, Stage* stage) {
  constexpr double kCycleS = 0.1;
  PlanProblem& problem = stage->problem;
  const RobotModel& model = *problem.model;
  const v1::Stand& stand = order.task().stand();
  problem.knot_period = kCycleS / (model.scale().time_s * problem.knot_count);
  problem.contact.speed = kLeastSpeed;
  // The posture is what was asked for; the legs' own places follow from it.
  problem.weights.height = 10.0;
  problem.weights.attitude = 10.0;
  problem.weights.legs = 1e-3;
  // Held at none, which is what a stand is kept with: a free one drifts by enough to break the
  // laws.
  problem.weights.stride = 1e6;
  problem.weights.acceleration = kHopAccelerationWeight;
  SeedParameters seed = DefaultSeed(model, v1::SEED_PATTERN_PRONK);
  seed.duty = 1.0;
  seed.body_height += stand.height_m() / model.scale().length_m;
  seed.roll = stand.roll_rad();
  seed.pitch = stand.pitch_rad();
  SeedAdvance(seed, &problem, &stage->unknowns);
}

// The smoothing that the second gait of a transition was planned with, read off the feet that it
// fixes: with another one their heights would ask for other forces.
double SmoothingAtEnd(const TransitionSeed& transition, const PlanProblem& problem) {
  const GaitCycle& cycle = *transition.to;
  const double knots = cycle.knot_count();
  std::vector<double> products;
  FootKinematics foot;
  for (const int knot : {transition.grid.to_knot - 1, transition.grid.to_knot}) {
    const Eigen::VectorXd q = cycle.Relative(knot / knots);
    // A force belongs to the height at the next knot.
    const Eigen::VectorXd forces = cycle.FootForces((knot - 1) / knots);
    for (Eigen::Index i = 0; i < problem.foot_count(); ++i) {
      problem.model->EvaluateFoot(q, i, false, &foot);
      products.push_back(foot.position.z() * forces(3 * i + 2) /
                         (problem.contact.gap * problem.contact.force));
    }
  }
  const auto middle = products.begin() + static_cast<std::ptrdiff_t>(products.size() / 2);
  std::nth_element(products.begin(), middle, products.end());
  return std::sqrt(std::max(0.0, *middle));
}

// The frequency changes on the way: what depends on a stride's size or time is taken of the quicker
// gait, or between the two.
void SetUpTransition(const TransitionSeed& transition, const Attempt& attempt, Stage* stage) {
  PlanProblem& problem = stage->problem;
  problem.is_periodic = false;
  problem.knot_period = transition.to->knot_period();
  double speed = kLeastSpeed;
  for (const GaitCycle* cycle : {transition.from, transition.to}) {
    speed = std::max(speed,
                     kStrideSpeedRatio * WayOf(cycle->motion(), *problem.model) / cycle->period());
  }
  problem.contact.speed = speed;
  problem.weights.acceleration =
      kTrotAccelerationWeight * transition.from->period() * transition.to->period();
  problem.fixed_foot_smoothing = SmoothingAtEnd(transition, problem);
  SeedTransition(transition, &problem, &stage->unknowns);
  problem.clearance_target *= attempt.demand_ratio;
}

// What the objectives weigh otherwise than least effort does. Found by trial on the demonstration's
// robot: each lowers its own figure below that of all the others, and the plans still converge.
void WeighObjective(v1::Objective objective, PlanWeights* weights) {
  switch (objective) {
    case v1::OBJECTIVE_LEAST_ENERGY:
      weights->effort *= 0.1;
      weights->alternation = 0.1;
      break;
    case v1::OBJECTIVE_SMOOTHEST:
      weights->effort *= 0.3;
      weights->acceleration *= 3.0;
      break;
    case v1::OBJECTIVE_LEAST_PEAK_VOLTAGE:
      weights->effort *= 0.3;
      weights->peak_drive = 0.1;
      break;
    default:
      break;
  }
}

}  // namespace

v1::SeedPattern ChoosePattern(const RobotModel& model, const v1::GaitOrder& order) {
  if (order.options().seed_pattern() != v1::SEED_PATTERN_UNSPECIFIED ||
      !order.task().has_advance()) {
    return order.options().seed_pattern();
  }
  const double period = 1.0 / (order.stride_frequency_hz() * model.scale().time_s);
  const bool is_slow = period > kSlowPeriod && model.leg_count() < kSteadyTrotLegs;
  return is_slow ? v1::SEED_PATTERN_WALK : v1::SEED_PATTERN_TROT;
}

std::vector<Attempt> AttemptLadder() {
  std::vector<Attempt> ladder(5);
  for (size_t rung = 0; rung < ladder.size(); ++rung) {
    ladder[rung].rung = static_cast<int>(rung);
  }
  ladder[1].iterations_per_round = 40;
  ladder[1].smoothing_factor = 0.5;
  ladder[2].last_penalty = 1e6;
  ladder[2].iterations_per_round = 40;
  ladder[3].seed_spread = 0.05;
  ladder[3].iterations_per_round = 40;
  ladder[4].demand_ratio = 0.5;
  ladder[4].iterations_per_round = 40;
  return ladder;
}

std::vector<int> StageKnots(const v1::GaitOrder& order) {
  if (order.options().knot_count() > 0) {
    const int asked = order.options().knot_count();
    return asked > kCoarseKnots && order.stride_frequency_hz() >= kSlowStrideHz
               ? std::vector<int>{kCoarseKnots, asked}
               : std::vector<int>{asked};
  }
  if (order.task().has_hop()) {
    return {kHopKnots};
  }
  if (order.task().has_stand()) {
    return {kStandKnots};
  }
  if (order.stride_frequency_hz() < kSlowStrideHz) {
    return {kSlowKnots};
  }
  return {kCoarseKnots, kFineKnots};
}

Stage MakeStage(const RobotModel& model,
                const v1::GaitOrder& order,
                const Attempt& attempt,
                int knot_count,
                bool is_refinement,
                const TransitionSeed* transition) {
  Stage stage;
  stage.problem.model = &model;
  stage.problem.knot_count = knot_count;
  stage.problem.contact.force = 1.0 / static_cast<double>(model.foot_count());
  if (transition != nullptr) {
    SetUpTransition(*transition, attempt, &stage);
    // Both ends are plans already: what lies between starts as near as a refinement does.
    stage.schedule = MakeSchedule(attempt, stage.problem.contact, true);
  } else if (order.task().has_hop()) {
    SetUpHop(order, &stage);
    stage.schedule = MakeSchedule(attempt, stage.problem.contact, is_refinement);
    stage.schedule.iterations_per_round =
        std::max(kHopIterationsPerRound, attempt.iterations_per_round);
  } else if (order.task().has_stand()) {
    SetUpStand(order, &stage);
    stage.schedule = MakeSchedule(attempt, stage.problem.contact, is_refinement);
    stage.schedule.tolerance = kStandTolerance;
  } else {
    SetUpAdvance(order, attempt, &stage);
    stage.schedule = MakeSchedule(attempt, stage.problem.contact, is_refinement);
  }
  if (attempt.greatest_friction > 0.0) {
    stage.problem.sticking_penalty_ratio = kStickingPenaltyRatio;
    stage.problem.greatest_friction = attempt.greatest_friction;
    stage.schedule.last_smoothing = std::min(stage.schedule.last_smoothing, kStickingSmoothing);
  }
  WeighObjective(order.objective(), &stage.problem.weights);
  stage.problem.weights.slip *= attempt.demand_ratio;
  return stage;
}

PlanUnknowns Resample(const PlanProblem& from, const PlanUnknowns& unknowns, const Stage& to) {
  PlanUnknowns fine = to.unknowns;
  fine.stride = unknowns.stride;
  const double ratio = to.problem.knot_period / from.knot_period;
  for (int k = 0; k < to.problem.knot_count; ++k) {
    const double at = k * ratio;
    const int left = std::min(static_cast<int>(std::floor(at)), from.knot_count - 1);
    const double share = at - left;
    Eigen::VectorXd right = unknowns.coordinates.col(from.knot_after(left));
    if (left == from.knot_count - 1) {
      MoveOn(from.Motion(unknowns.stride), &right);
    }
    fine.coordinates.col(k) = (1.0 - share) * unknowns.coordinates.col(left) + share * right;
    // Forces are constant over an interval; the knot's own interval lies in the coarse one that
    // starts at `left`.
    fine.controls.col(k) = unknowns.controls.col(left);
  }
  return fine;
}

}  // namespace gaitshelf::solver
