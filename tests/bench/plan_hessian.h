// Second derivatives that an interior-point method may be given of a plan's program.
#ifndef GAITSHELF_TESTS_BENCH_PLAN_HESSIAN_H_
#define GAITSHELF_TESTS_BENCH_PLAN_HESSIAN_H_

#include <vector>

#include "tests/bench/plan_program.h"

namespace gaitshelf::bench {

// The lower triangle of a symmetric matrix, with a pattern that is fixed.
class PlanHessian {
 public:
  virtual ~PlanHessian() = default;
  const std::vector<Place>& places() const { return places_; }
  // Fills the entries at the program's unknowns; the program is linearised there.
  virtual void Fill(PlanProgram* program,
                    double cost_factor,
                    const double* multipliers,
                    double* entries) = 0;

 protected:
  std::vector<Place> places_;
};

// J'J of the costs, without the curvature of the laws, and a multiple of the unit matrix.
class GaussNewtonHessian final : public PlanHessian {
 public:
  GaussNewtonHessian(const PlanProgram& program, double proximal);
  void Fill(PlanProgram* program,
            double cost_factor,
            const double* multipliers,
            double* entries) override;

 private:
  // Two entries of one row of J, and where their product goes.
  struct Product {
    size_t left = 0;
    size_t right = 0;
    size_t at = 0;
  };
  std::vector<Product> products_;
  std::vector<size_t> diagonal_;
  double proximal_;
};

// The Hessian of the Lagrangian, from differences of the exact gradient: unknowns that no row has
// in common are moved together.
class DifferenceHessian final : public PlanHessian {
 public:
  explicit DifferenceHessian(const PlanProgram& program);
  void Fill(PlanProgram* program,
            double cost_factor,
            const double* multipliers,
            double* entries) override;

 private:
  void Colour(int unknown_count);

  std::vector<std::vector<int>> columns_of_;     // by colour: what is moved together
  std::vector<std::vector<size_t>> entries_of_;  // by colour: what is read then
};

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_PLAN_HESSIAN_H_
