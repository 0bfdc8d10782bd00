#include "tests/bench/growth.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>
#include <string>
#include <utility>
#include <vector>

#include "solver/base/status_macros.h"
#include "tests/bench/planner_case.h"
#include "tests/bench/processor_time.h"
#include "tests/bench/step_cost.h"

namespace gaitshelf::bench {
namespace {

constexpr double kFrequencyHz = 12.0;
constexpr const char* kSurface = "duct-steel";
constexpr int kKnots[] = {20, 40, 80, 160, 320};
constexpr int kLegs[] = {4, 6, 8};
constexpr int kKnotsOfLegs = 80;
// Rounds that every size does alike, from its seed; a round is 20 iterations.
constexpr int kRounds = 4;
// Pieces of an iteration are timed so many times each turn.
constexpr int kPieceTimes = 20;

struct Size {
  double size = 0.0;  // knots or legs
  solver::RobotModel model;
  int knot_count = 0;
  // Least of the turns.
  double iteration_s = std::numeric_limits<double>::infinity();
  StepCost step{};
  double whole_s = std::numeric_limits<double>::infinity();
  int whole_iterations = 0;
  bool is_converged = false;
};

// Slope of log(time) over log(size), by least squares.
template <typename Time>
double Exponent(const std::vector<Size>& sizes, const Time& time) {
  double x_sum = 0.0;
  double y_sum = 0.0;
  double xx_sum = 0.0;
  double xy_sum = 0.0;
  for (const Size& size : sizes) {
    const double x = std::log(size.size);
    const double y = std::log(time(size));
    x_sum += x;
    y_sum += y;
    xx_sum += x * x;
    xy_sum += x * y;
  }
  const double count = static_cast<double>(sizes.size());
  return (count * xy_sum - x_sum * y_sum) / (count * xx_sum - x_sum * x_sum);
}

struct Solved {
  double processor_s = 0.0;
  solver::RoundState state;
};

absl::StatusOr<Solved> Solve(solver::Stage* stage) {
  solver::PenaltyState penalty = FirstPenalty(*stage);
  Solved solved;
  const Stopwatch watch;
  GAITSHELF_RETURN_IF_ERROR(solver::SolveRounds(
      stage->problem, stage->schedule, {}, &stage->unknowns, &penalty, &solved.state));
  solved.processor_s = watch.processor_s();
  return solved;
}

absl::Status MeasureOnce(Size* size) {
  solver::Stage stage = MakeCaseStage(size->model, kFrequencyHz, size->knot_count);
  solver::Stage solved = stage;
  GAITSHELF_ASSIGN_OR_RETURN(const Solved whole, Solve(&solved));
  size->whole_s = std::min(size->whole_s, whole.processor_s);
  size->whole_iterations = whole.state.iteration_count;
  size->is_converged = whole.state.is_converged;
  // At what was found: more of a seed's derivatives are zero than anywhere else.
  GAITSHELF_ASSIGN_OR_RETURN(const StepCost step, MeasureStep(&solved, kPieceTimes));
  if (size->step.laws_s == 0.0 || step.Linearisation() < size->step.Linearisation()) {
    size->step = step;
  }
  stage.schedule.max_rounds = kRounds;
  GAITSHELF_ASSIGN_OR_RETURN(const Solved some, Solve(&stage));
  size->iteration_s = std::min(size->iteration_s, some.processor_s / some.state.iteration_count);
  return absl::OkStatus();
}

Json Report(const std::string& name, const std::vector<Size>& sizes) {
  std::printf("%6s %12s %9s %9s %9s %9s %9s %9s %10s %6s\n",
              name.c_str(),
              "iteration ms",
              "laws",
              "rows",
              "products",
              "factoring",
              "steps",
              "trial",
              "whole s",
              "its");
  Json rows = Json::List();
  for (const Size& size : sizes) {
    std::printf("%6g %12.3f %9.3f %9.3f %9.3f %9.3f %9.3f %9.3f %10.3f %6d%s\n",
                size.size,
                1e3 * size.iteration_s,
                1e3 * size.step.laws_s,
                1e3 * size.step.rows_s,
                1e3 * size.step.products_s,
                1e3 * size.step.elimination_s,
                1e3 * size.step.directions_s,
                1e3 * size.step.trial_s,
                size.whole_s,
                size.whole_iterations,
                size.is_converged ? "" : "  not converged");
    rows.Add(Json::Object()
                 .Set(name, size.size)
                 .Set("iteration_s", size.iteration_s)
                 .Set("linearisation_s", size.step.Linearisation())
                 .Set("whole_s", size.whole_s)
                 .Set("iterations", size.whole_iterations)
                 .Set("converged", size.is_converged));
  }
  const double by_iteration = Exponent(sizes, [](const Size& size) { return size.iteration_s; });
  const double by_step =
      Exponent(sizes, [](const Size& size) { return size.step.Linearisation(); });
  const double by_laws = Exponent(sizes, [](const Size& size) { return size.step.laws_s; });
  const double by_whole = Exponent(sizes, [](const Size& size) { return size.whole_s; });
  std::printf(
      "exponents over %s: iteration %.2f, linearisation %.2f, laws alone %.2f, whole solve %.2f\n",
      name.c_str(),
      by_iteration,
      by_step,
      by_laws,
      by_whole);
  std::fflush(stdout);
  return Json::Object()
      .Set("sizes", rows)
      .Set("iteration_exponent", by_iteration)
      .Set("linearisation_exponent", by_step)
      .Set("laws_exponent", by_laws)
      .Set("whole_exponent", by_whole);
}

// Sizes take turns, so that what else the machine does meets all of them.
absl::StatusOr<Json> MeasureSizes(const std::string& name, int repeats, std::vector<Size> sizes) {
  for (int turn = 0; turn < repeats; ++turn) {
    for (Size& size : sizes) {
      GAITSHELF_RETURN_IF_ERROR(MeasureOnce(&size));
      std::fprintf(stderr, "growth over %s: turn %d, %g done\n", name.c_str(), turn + 1, size.size);
    }
  }
  return Report(name, sizes);
}

}  // namespace

absl::StatusOr<Json> MeasureGrowth(const GrowthOptions& options) {
  std::vector<Size> by_knots;
  for (const int knots : kKnots) {
    if (knots <= options.most_knots) {
      by_knots.push_back({.size = static_cast<double>(knots),
                          .model = MakeCaseModel(ReadCaseRobot("weevil-lumped"), kSurface),
                          .knot_count = knots});
    }
  }
  std::vector<Size> by_legs;
  for (const int legs : kLegs) {
    by_legs.push_back({.size = static_cast<double>(legs),
                       .model = MakeCaseModel(MakeRobotOfLegs(legs), kSurface),
                       .knot_count = std::min(kKnotsOfLegs, options.most_knots)});
  }
  GAITSHELF_ASSIGN_OR_RETURN(const Json over_knots,
                             MeasureSizes("knots", options.repeats, std::move(by_knots)));
  GAITSHELF_ASSIGN_OR_RETURN(const Json over_legs,
                             MeasureSizes("legs", options.repeats, std::move(by_legs)));
  return Json::Object().Set("knots", over_knots).Set("legs", over_legs);
}

}  // namespace gaitshelf::bench
