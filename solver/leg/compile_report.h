// How well a leg with a linkage was compiled.
#ifndef GAITSHELF_SOLVER_LEG_COMPILE_REPORT_H_
#define GAITSHELF_SOLVER_LEG_COMPILE_REPORT_H_

namespace gaitshelf::solver {

struct CompileReport {
  int degree = 0;
  // Greatest error of a function at points between the nodes, over the greatest value of its kind;
  // damping, which is known far less well, is left out.
  double fit_error_ratio = 0.0;
  // The range, stretched by this, meets a singular posture; at most 3.
  double singularity_ratio = 0.0;
  // Least reciprocal condition number of the loop equations in the range: 1 without loops, 0 in a
  // singular posture.
  double regularity_ratio = 0.0;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_COMPILE_REPORT_H_
