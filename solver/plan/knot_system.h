// The normal equations of a plan's rows, solved knot by knot.
//
// The unknowns come in three kinds. Controls appear in rows of their own knot only. Coordinates
// appear in rows with those of the next two knots at most, around the cycle. What is left, such as
// the stride, may appear anywhere. So the matrix J'J is eliminated in one sweep over the knots, in
// small dense pieces: a knot's controls first, then its coordinates; the last two knots of a cycle
// and the rest, the border, come last. The work grows linearly with the knots, and no general
// sparse matrix is ever built.
#ifndef GAITSHELF_SOLVER_PLAN_KNOT_SYSTEM_H_
#define GAITSHELF_SOLVER_PLAN_KNOT_SYSTEM_H_

#include <vector>

#include <Eigen/Core>
#include <ceres/cost_function.h>
#include <ceres/problem.h>

#include "absl/status/statusor.h"
#include "solver/plan/factor_panel.h"
#include "solver/plan/partial_cholesky.h"
#include "solver/plan/problem.h"
#include "solver/plan/row_products.h"

namespace gaitshelf::solver {

class KnotSystem {
 public:
  // Reads which rows `rows` has; all arguments must outlive the system. Arrays that Ceres holds
  // constant are no unknowns.
  //
  // Errors:
  //   kInternal   a row couples unknowns in another way than is said above
  static absl::StatusOr<KnotSystem> Create(const PlanProblem& problem,
                                           const ceres::Problem& rows,
                                           PlanUnknowns* unknowns);

  Eigen::Index size() const { return size_; }
  // Copies the unknowns to and from a vector.
  void Read(Eigen::VectorXd* values) const;
  void Write(const Eigen::VectorXd& values) const;

  // Half the sum of squares of all rows at the present unknowns.
  double Cost();
  // Evaluates rows and jacobians at the present unknowns and factors J'J + damping * D^2, with D^2
  // the diagonal of J'J kept above a floor. Returns false when that is not positive definite.
  bool Linearise(double damping);

  // Of the last linearisation.
  double cost() const { return cost_; }
  const Eigen::VectorXd& gradient() const { return gradient_; }
  const Eigen::VectorXd& squared_scale() const { return squared_scale_; }
  // Solves (J'J + damping D^2) step = -gradient.
  void NewtonStep(Eigen::VectorXd* step) const;
  // L' x of two directions x, with L the factor: the squared norm is x' (J'J + damping D^2) x.
  using Directions = Eigen::Matrix<double, Eigen::Dynamic, 2>;
  void TimesFactor(const Directions& x, Eigen::VectorXd* first, Eigen::VectorXd* second) const;

 private:
  // One of the arrays that hold the unknowns.
  struct Block {
    double* values = nullptr;
    Eigen::Index size = 0;
    Eigen::Index offset = 0;  // in the vector of all unknowns
    int place = -1;           // in the order of elimination; -1 for controls
  };
  // The rows of one cost function.
  struct Rows {
    const ceres::CostFunction* function = nullptr;
    std::vector<double*> parameters;
    std::vector<int> blocks;            // -1 for an array that is held constant
    std::vector<Eigen::Index> columns;  // where each block begins in the group's table
    std::vector<size_t> order;          // of the blocks that are not constant, by column
    double square = 0.0;                // sum of squares at the last linearisation
  };
  // All rows of a knot: controls, if it has any, and the other blocks by place.
  struct Group {
    int control = -1;
    std::vector<int> blocks;
    std::vector<Rows> rows;
    FactorPanel panel;  // of the control
    // What the rows add to gradient and scale of the panel's unknowns.
    Eigen::VectorXd gradient;
    Eigen::VectorXd diagonal;
  };

  KnotSystem() = default;

  void AddBlocks(const PlanProblem& problem, const ceres::Problem& rows, PlanUnknowns* unknowns);
  void CollectRows(const ceres::Problem& rows, const PlanUnknowns& unknowns);
  absl::Status Arrange();
  void ArrangeColumns(Group* group);
  void ArrangePanels();
  void Collect(Group* group);
  void Add(const Group& group);
  void SumInOrder();
  double Evaluate(const Rows& rows, bool with_jacobians);
  bool EliminateControl(double damping, Group* group);
  void AddToFront(const Group& group, int place);
  void ShiftFront();
  bool EliminateLink(double damping, size_t place);
  bool EliminateBorder(double damping);

  std::vector<Block> blocks_;
  std::vector<Group> groups_;                // one a knot
  std::vector<std::vector<int>> groups_at_;  // by the place at which they are added
  std::vector<int> chain_;                   // coordinate blocks by place
  std::vector<int> border_;                  // the blocks that come last
  Eigen::Index size_ = 0;
  Eigen::Index link_size_ = 0;  // of a coordinate block
  Eigen::Index border_size_ = 0;

  double cost_ = 0.0;
  Eigen::VectorXd gradient_;
  Eigen::VectorXd squared_scale_;
  std::vector<FactorPanel> chain_panels_;
  FactorPanel border_panel_;
  // Work space.
  SymmetricTable table_;  // a group's: controls, other blocks, gradient
  SymmetricTable front_;  // the coordinates of three knots, border, gradient
  std::vector<double> residuals_;
  std::vector<std::vector<double>> jacobians_;
  std::vector<double*> jacobian_pointers_;
  std::vector<RowsByArray> arrays_;
  RowProducts products_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_PLAN_KNOT_SYSTEM_H_
