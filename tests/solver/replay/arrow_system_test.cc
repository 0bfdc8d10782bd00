#include "solver/replay/arrow_system.h"

#include <random>

#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr Index kCoordinates = 6 + 4 + 3;
constexpr Index kLoops = 2 + 1;

class ArrowSystemTest : public ::testing::Test {
 protected:
  ArrowSystemTest() {
    ArrowBlocks& blocks = *system_.mutable_blocks();
    blocks.body = Random(6, 6) + 10.0 * MatrixXd::Identity(6, 6);
    blocks.legs.resize(2);
    Index first = 6, first_loop = 0;
    for (size_t i = 0; i < 2; ++i) {
      const Index n = i == 0 ? 4 : 3;
      const Index m = i == 0 ? 2 : 1;
      ArrowLeg& leg = blocks.legs[i];
      leg.first = first;
      leg.first_loop = first_loop;
      leg.own = Random(n, n) + 5.0 * MatrixXd::Identity(n, n);
      leg.coupling = Random(6, n);
      leg.loops_start = Random(m, n);
      leg.loops_end = leg.loops_start + 0.1 * Random(m, n);
      first += n;
      first_loop += m;
    }
    system_.Factorise();
  }

  MatrixXd Random(Index rows, Index columns) {
    std::uniform_real_distribution<double> uniform(-1.0, 1.0);
    return MatrixXd::NullaryExpr(rows, columns, [&] { return uniform(generator_); });
  }

  // The same equations in one matrix, as the header states them.
  MatrixXd Dense() const {
    MatrixXd dense = MatrixXd::Zero(kCoordinates + kLoops, kCoordinates + kLoops);
    dense.topLeftCorner(6, 6) = system_.blocks().body;
    for (const ArrowLeg& leg : system_.blocks().legs) {
      const Index n = leg.own.rows(), m = leg.loops_end.rows();
      dense.block(0, leg.first, 6, n) = leg.coupling;
      dense.block(leg.first, 0, n, 6) = leg.coupling.transpose();
      dense.block(leg.first, leg.first, n, n) = leg.own;
      dense.block(leg.first, kCoordinates + leg.first_loop, n, m) = -leg.loops_start.transpose();
      dense.block(kCoordinates + leg.first_loop, leg.first, m, n) = leg.loops_end;
    }
    return dense;
  }

  std::mt19937 generator_{7};
  ArrowSystem system_;
};

TEST_F(ArrowSystemTest, SolvesWhatItStates) {
  const VectorXd right = Random(kCoordinates + kLoops, 1);
  EXPECT_LT((Dense() * system_.Solve(right) - right).norm(), 1e-12);
}

TEST_F(ArrowSystemTest, RespondsAsItSolves) {
  for (const Index leg : {Index{-1}, Index{0}, Index{1}}) {
    MatrixXd force = MatrixXd::Zero(3, kCoordinates);
    force.leftCols<6>() = Random(3, 6);
    if (leg >= 0) {
      const ArrowLeg& own = system_.blocks().legs[static_cast<size_t>(leg)];
      force.middleCols(own.first, own.own.rows()) = Random(3, own.own.rows());
    }
    MatrixXd response(kCoordinates + kLoops, 3);
    system_.Respond(force, leg, response);
    for (Index i = 0; i < 3; ++i) {
      VectorXd right = VectorXd::Zero(kCoordinates + kLoops);
      right.head(kCoordinates) = force.row(i).transpose();
      EXPECT_LT((response.col(i) - system_.Solve(right)).norm(), 1e-12) << leg;
    }
  }
}

}  // namespace
}  // namespace gaitshelf::solver
