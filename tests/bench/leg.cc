// Times one leg, all functions with first and second derivatives: a leg compiled from its linkage
// against one given by its lift and swing, in turns in one process, since machines are noisy.
// Usage: leg_bench [--json FILE]
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <string>

#include "solver/leg/compile_leg.h"
#include "solver/leg/compiled_leg.h"
#include "solver/leg/lumped_leg.h"
#include "tests/bench/json.h"
#include "tests/bench/options.h"
#include "tests/support/demo.h"

namespace {

using gaitshelf::solver::CompiledLeg;
using gaitshelf::solver::DerivativeOrder;
using gaitshelf::solver::LegEvaluation;
using gaitshelf::solver::LegModel;
using gaitshelf::solver::LumpedLeg;
using gaitshelf::solver::Scale;

// Lengths near 1, as the planner has them.
const Scale kScale{0.011, 1.9e-3, 0.0335};
constexpr int kCallCount = 20000;

// Seconds a call, over postures that differ from call to call.
template <typename Call>
double TimeCall(const Call& call) {
  const auto start = std::chrono::steady_clock::now();
  for (int i = 0; i < kCallCount; ++i) {
    const double share = static_cast<double>(i) / kCallCount;
    call(Eigen::Vector2d(0.15 * (share - 0.5), 0.6 * (0.5 - share)));
  }
  const std::chrono::duration<double> taken = std::chrono::steady_clock::now() - start;
  return taken.count() / kCallCount;
}

}  // namespace

int main(int argc, char** argv) {
  std::string json;
  if (!gaitshelf::bench::OptionReader("leg_bench").Text("--json", "FILE", &json).Read(argc, argv)) {
    return 2;
  }
  const auto linkage = gaitshelf::test::ReadDemoRobot("weevil");
  const auto lumped = gaitshelf::test::ReadDemoRobot("weevil-lumped");
  const auto start = std::chrono::steady_clock::now();
  const auto table = gaitshelf::solver::CompileLeg(linkage.legs(0).linkage());
  const std::chrono::duration<double> compiling = std::chrono::steady_clock::now() - start;
  if (!table.ok()) {
    std::printf("%s\n", table.status().ToString().c_str());
    return 1;
  }
  const CompiledLeg compiled(*table, kScale);
  const LumpedLeg plain(lumped.legs(0).lumped(), kScale);
  LegEvaluation out{};
  double check = 0.0;
  const auto all = [&](const LegModel& leg) {
    return TimeCall([&](const Eigen::Vector2d& y) {
      leg.Evaluate(y, DerivativeOrder::kSecond, &out);
      check += out.second[2][0];
    });
  };
  double compiled_s = 1.0;
  double some_s = 1.0;
  double lumped_s = 1.0;
  double first_s = 1.0;
  // The least of several turns: what else the machine does only adds.
  for (int turn = 0; turn < 15; ++turn) {
    compiled_s = std::min(compiled_s, all(compiled));
    lumped_s = std::min(lumped_s, all(plain));
    first_s = std::min(first_s, TimeCall([&](const Eigen::Vector2d& y) {
                         compiled.Evaluate(y, DerivativeOrder::kFirst, &out);
                         check += out.first[1][0];
                       }));
    some_s = std::min(some_s, TimeCall([&](const Eigen::Vector2d& y) {
                        compiled.EvaluateFootAndTravel(y, DerivativeOrder::kSecond, &out);
                        check += out.second[2][25];
                      }));
  }
  std::printf("compiled leg of degree %d, fit error %.1e, compiled in %.1f ms\n",
              table->report().degree(),
              table->report().fit_error_ratio(),
              1e3 * compiling.count());
  std::printf(
      "a leg with first and second derivatives: compiled %.2f us, lumped %.2f us, ratio %.1f\n",
      1e6 * compiled_s,
      1e6 * lumped_s,
      compiled_s / lumped_s);
  std::printf("without second derivatives: compiled %.2f us\n", 1e6 * first_s);
  std::printf("its foot and bimorph travel alone: compiled %.2f us (%g)\n", 1e6 * some_s, check);
  return gaitshelf::bench::WriteJson(gaitshelf::bench::Json::Object()
                                         .Set("degree", table->report().degree())
                                         .Set("fit_error_ratio", table->report().fit_error_ratio())
                                         .Set("compiling_s", compiling.count())
                                         .Set("compiled_us", 1e6 * compiled_s)
                                         .Set("lumped_us", 1e6 * lumped_s)
                                         .Set("compiled_ratio", compiled_s / lumped_s)
                                         .Set("compiled_first_us", 1e6 * first_s)
                                         .Set("compiled_foot_and_travel_us", 1e6 * some_s),
                                     "leg_bench",
                                     json);
}
