// Linear equations of a body with legs whose loops are held closed. Legs meet in the body alone, so
// each is eliminated onto the body's six coordinates.
//
//   body          b + sum coupling_l a_l                      = right_b
//   coupling_l'   b + own_l a_l - loops_start_l' m_l          = right_l    for each leg l
//                     loops_end_l a_l                         = loop_l
// b: change of the body's coordinates, a_l: of the leg's angles, m_l: of its loop forces. The loop
// forces act with the directions at the step's start, while the loops have to be closed at its end.
#ifndef GAITSHELF_SOLVER_REPLAY_ARROW_SYSTEM_H_
#define GAITSHELF_SOLVER_REPLAY_ARROW_SYSTEM_H_

#include <vector>

#include <Eigen/Core>
#include <Eigen/LU>

namespace gaitshelf::solver {

struct ArrowLeg {
  Eigen::Index first = 0;       // index of its first angle; the body has 0 to 5
  Eigen::Index first_loop = 0;  // index of its first loop equation
  Eigen::MatrixXd own;          // n x n
  Eigen::Matrix<double, 6, Eigen::Dynamic> coupling;  // 6 x n
  Eigen::MatrixXd loops_start;                        // m x n
  Eigen::MatrixXd loops_end;                          // m x n
};

struct ArrowBlocks {
  Eigen::Matrix<double, 6, 6> body;
  std::vector<ArrowLeg> legs;
};

class ArrowSystem {
 public:
  const ArrowBlocks& blocks() const { return blocks_; }
  // Whoever changes them factorises before the system is solved again.
  ArrowBlocks* mutable_blocks() { return &blocks_; }

  // Factorises the blocks as they are now.
  void Factorise();

  // Solves for one right side: all coordinates' rows, then all loop equations' rows. Returns
  // coordinates' changes, then loop forces' changes.
  Eigen::VectorXd Solve(const Eigen::VectorXd& right) const;

  // Writes the solution for three right sides that touch the body and one leg alone; leg -1 stands
  // for none.
  //   force     3 x coordinates: the right sides, each a row
  //   response  as many rows as Solve gives, 3 columns
  void Respond(const Eigen::Ref<const Eigen::MatrixXd>& force,
               Eigen::Index leg,
               Eigen::Ref<Eigen::MatrixXd> response) const;

 private:
  struct Factor {
    Eigen::PartialPivLU<Eigen::MatrixXd> own;  // of a leg with its loops
    Eigen::MatrixXd by_body;                   // its solution for coupling'
  };

  ArrowBlocks blocks_;
  std::vector<Factor> factors_;
  Eigen::PartialPivLU<Eigen::Matrix<double, 6, 6>> reduced_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_ARROW_SYSTEM_H_
