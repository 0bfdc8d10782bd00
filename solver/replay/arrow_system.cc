#include "solver/replay/arrow_system.h"

namespace gaitshelf::solver {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

void ArrowSystem::Factorise() {
  factors_.resize(blocks_.legs.size());
  Eigen::Matrix<double, 6, 6> reduced = blocks_.body;
  MatrixXd matrix;
  MatrixXd right;
  for (size_t i = 0; i < blocks_.legs.size(); ++i) {
    const ArrowLeg& leg = blocks_.legs[i];
    const Index n = leg.own.rows();
    const Index m = leg.loops_end.rows();
    matrix.setZero(n + m, n + m);
    matrix.topLeftCorner(n, n) = leg.own;
    matrix.topRightCorner(n, m) = -leg.loops_start.transpose();
    matrix.bottomLeftCorner(m, n) = leg.loops_end;
    factors_[i].own.compute(matrix);
    right.setZero(n + m, 6);
    right.topRows(n) = leg.coupling.transpose();
    factors_[i].by_body = factors_[i].own.solve(right);
    reduced.noalias() -= leg.coupling * factors_[i].by_body.topRows(n);
  }
  reduced_.compute(reduced);
}

VectorXd ArrowSystem::Solve(const VectorXd& right) const {
  VectorXd result(right.size());
  Eigen::Matrix<double, 6, 1> body_right = right.head<6>();
  Index loops = 6;
  for (const ArrowLeg& leg : blocks_.legs) {
    loops += leg.own.rows();
  }
  VectorXd own;
  for (size_t i = 0; i < blocks_.legs.size(); ++i) {
    const ArrowLeg& leg = blocks_.legs[i];
    const Index n = leg.own.rows();
    const Index m = leg.loops_end.rows();
    own.resize(n + m);
    own << right.segment(leg.first, n), right.segment(loops + leg.first_loop, m);
    own = factors_[i].own.solve(own).eval();
    body_right.noalias() -= leg.coupling * own.head(n);
    result.segment(leg.first, n) = own.head(n);
    result.segment(loops + leg.first_loop, m) = own.tail(m);
  }
  const Eigen::Matrix<double, 6, 1> change = reduced_.solve(body_right);
  result.head<6>() = change;
  for (size_t i = 0; i < blocks_.legs.size(); ++i) {
    const ArrowLeg& leg = blocks_.legs[i];
    const Index n = leg.own.rows();
    const Index m = leg.loops_end.rows();
    result.segment(leg.first, n).noalias() -= factors_[i].by_body.topRows(n) * change;
    result.segment(loops + leg.first_loop, m).noalias() -=
        factors_[i].by_body.bottomRows(m) * change;
  }
  return result;
}

void ArrowSystem::Respond(const Eigen::Ref<const MatrixXd>& force,
                          Index leg_index,
                          Eigen::Ref<MatrixXd> response) const {
  const Index loops = force.cols();
  Eigen::Matrix<double, 6, 3> body_right = force.leftCols<6>().transpose();
  MatrixXd own;
  if (leg_index >= 0) {
    const ArrowLeg& leg = blocks_.legs[static_cast<size_t>(leg_index)];
    const Index n = leg.own.rows();
    own.setZero(n + leg.loops_end.rows(), 3);
    own.topRows(n) = force.middleCols(leg.first, n).transpose();
    own = factors_[static_cast<size_t>(leg_index)].own.solve(own).eval();
    body_right.noalias() -= leg.coupling * own.topRows(n);
  }
  const Eigen::Matrix<double, 6, 3> change = reduced_.solve(body_right);
  response.topRows<6>() = change;
  for (size_t i = 0; i < blocks_.legs.size(); ++i) {
    const ArrowLeg& leg = blocks_.legs[i];
    const Index n = leg.own.rows();
    const Index m = leg.loops_end.rows();
    MatrixXd moved = -factors_[i].by_body * change;
    if (static_cast<Index>(i) == leg_index) {
      moved += own;
    }
    response.middleRows(leg.first, n) = moved.topRows(n);
    response.middleRows(loops + leg.first_loop, m) = moved.bottomRows(m);
  }
}

}  // namespace gaitshelf::solver
