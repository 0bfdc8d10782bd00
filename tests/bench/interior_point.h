// Solves a plan's program by IPOPT: the planner's rival in the bench.
#ifndef GAITSHELF_TESTS_BENCH_INTERIOR_POINT_H_
#define GAITSHELF_TESTS_BENCH_INTERIOR_POINT_H_

#include <string>
#include <vector>

#include "tests/bench/plan_program.h"

namespace gaitshelf::bench {

enum class HessianKind { kLimitedMemory, kGaussNewton, kDifferences };

struct IpoptSetup {
  std::string name;
  HessianKind hessian = HessianKind::kLimitedMemory;
  double proximal = 0.0;  // with kGaussNewton
  // Through the planner's steps of smoothing, each from where the last one ended; else the last one
  // at once.
  bool is_scheduled = false;
  // mu_strategy adaptive, the planner's tolerance, and an end as soon as the plan is as good as is
  // asked, which the planner does not have to prove either; else all as IPOPT comes.
  bool is_tuned = false;
  double last_tolerance = 7e-7;  // of a tuned set-up
};

// What a run came to. Times are the processor's.
struct IpoptRun {
  PlanScore score;
  double processor_s = 0.0;
  double wall_s = 0.0;
  double hessian_s = 0.0;     // of processor_s, in second derivatives
  double evaluation_s = 0.0;  // of processor_s, in rows, gradients and jacobians
  int iterations = 0;
  int status = 0;  // of the last solve, as IPOPT numbers it; 0 is a solution
  // When the laws at the last smoothing were first met to the planner's tolerance, and when that
  // was so at no more than the asked cost; below 0 for never.
  double feasible_s = -1.0;
  double as_good_s = -1.0;
};

struct IpoptLimits {
  double processor_s = 60.0;  // second derivatives not counted; with them three times as much
  int iterations = 3000;      // of each solve; IPOPT's own default
  double asked_cost = 0.0;
};

// Solves the program from its unknowns as they are, and leaves what was found in them.
IpoptRun SolveByIpopt(const IpoptSetup& setup, const IpoptLimits& limits, PlanProgram* program);

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_INTERIOR_POINT_H_
