// The midpoint interval as a transcription of optimal control, on a problem with a closed form.
#include <array>
#include <cmath>

#include <Eigen/LU>
#include <gtest/gtest.h>

#include "solver/mechanism/midpoint.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// x' = x / 2 + u as a mechanism: a negative spring of 1/2 and a damper of 1, without mass. The sum
// of both ends' forces over an interval is then x / 2 - x' at its middle. No description says this:
// a leg has mass and its springs pull back.
class FirstOrderPlant : public Lagrangian {
 public:
  Index coordinate_count() const override { return 1; }
  void Evaluate(const Eigen::Ref<const VectorXd>& q,
                const Eigen::Ref<const VectorXd>& v,
                DerivativeOrder,
                LagrangianTerms* terms) const override {
    terms->Resize(1);
    terms->force[0] = 0.5 * q[0] - v[0];
    terms->force_q(0, 0) = 0.5;
    terms->force_v(0, 0) = -1.0;
  }
  double Energy(const Eigen::Ref<const VectorXd>& q,
                const Eigen::Ref<const VectorXd>&) const override {
    return -0.25 * q[0] * q[0];
  }
};

struct Errors {
  double state = 0.0;
  double control = 0.0;
  double cost = 0.0;
};

// Least integral of u^2 + 2 x^2 over one unit of time from x = 1, by the conditions of the optimum
// of the quadratic programme: unknowns are the states at knots 1 to N and the controls of the N
// intervals, which the intervals' own equations bind.
Errors Solve(int count) {
  const double h = 1.0 / count;
  MidpointInterval interval;
  interval.Resize(1);
  EvaluateMidpoint(FirstOrderPlant(),
                   VectorXd::Zero(1),
                   VectorXd::Zero(1),
                   h,
                   DerivativeOrder::kSecond,
                   &interval);
  const double by_start = (interval.left_q0 + interval.right_q0)(0, 0);
  const double by_end = (interval.left_q1 + interval.right_q1)(0, 0);
  MatrixXd system = MatrixXd::Zero(3 * count, 3 * count);
  VectorXd right = VectorXd::Zero(3 * count);
  const auto state = [](int knot) { return knot - 1; };
  for (int k = 0; k < count; ++k) {
    const int control = count + k, row = 2 * count + k;
    system(control, control) = 2.0 * h;
    // 2 x^2 at the middle of the interval.
    for (const int i : {k, k + 1}) {
      for (const int j : {k, k + 1}) {
        if (i > 0 && j > 0) {
          system(state(i), state(j)) += h;
        } else if (i > 0) {
          right[state(i)] -= h;
        }
      }
    }
    system(row, control) = system(control, row) = 1.0;
    system(row, state(k + 1)) = system(state(k + 1), row) = by_end;
    if (k > 0) {
      system(row, state(k)) = system(state(k), row) = by_start;
    } else {
      right[row] = -by_start;
    }
  }
  const VectorXd solution = system.partialPivLu().solve(right);
  const double e3 = std::exp(3.0);
  Errors errors;
  double cost = 0.0;
  for (int k = 0; k < count; ++k) {
    const double end = (k + 1) * h, middle = (k + 0.5) * h;
    const auto grow = [e3](double t) { return std::exp(1.5 * t) * (2.0 + e3); };
    const double x = (2.0 * std::exp(3.0 * end) + e3) / grow(end);
    const double u = 2.0 * (std::exp(3.0 * middle) - e3) / grow(middle);
    errors.state = std::max(errors.state, std::abs(solution[state(k + 1)] - x));
    errors.control = std::max(errors.control, std::abs(solution[count + k] - u));
    const double before = k > 0 ? solution[state(k)] : 1.0;
    const double mean = 0.5 * (before + solution[state(k + 1)]);
    cost += h * (solution[count + k] * solution[count + k] + 2.0 * mean * mean);
  }
  errors.cost = std::abs(cost - 1.7283289955);
  return errors;
}

// W. W. Hager, Numer. Math. 87 (2000) 247-282 (from memory): x = (2 e^3t + e^3) / (e^(3t/2) (2 +
// e^3)), u = 2 (e^3t - e^3) / (e^(3t/2) (2 + e^3)), least cost 1.7283289955 and end 0.6087724857
// (optimality shown with SymPy). Some schemes that integrate with order 2 lose it in the control.
TEST(CollocationTest, MidpointKeepsOrderTwoInStateAndControl) {
  std::array<Errors, 4> errors;
  for (size_t i = 0; i < errors.size(); ++i) {
    errors[i] = Solve(10 << i);
  }
  for (size_t i = 1; i < errors.size(); ++i) {
    const double tolerance = 0.1 / static_cast<double>(i);  // ten intervals are still coarse
    EXPECT_NEAR(std::log2(errors[i - 1].state / errors[i].state), 2.0, tolerance) << i;
    EXPECT_NEAR(std::log2(errors[i - 1].control / errors[i].control), 2.0, tolerance) << i;
    EXPECT_NEAR(std::log2(errors[i - 1].cost / errors[i].cost), 2.0, tolerance) << i;
  }
  EXPECT_LT(errors[3].control, 1e-3);
}

}  // namespace
}  // namespace gaitshelf::solver
