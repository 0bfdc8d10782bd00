// The contact law of one foot, solved exactly: unilateral contact with Coulomb friction of the
// isotropic cone, given how the foot's own force moves it.
#ifndef GAITSHELF_SOLVER_REPLAY_FOOT_LAW_H_
#define GAITSHELF_SOLVER_REPLAY_FOOT_LAW_H_

#include <Eigen/Core>

namespace gaitshelf::solver {

enum class FootState { kOpen, kStick, kSlide };

// One foot's problem. At the end of the step
//   (slip x, slip y, gap) = free + mobility * force,  force = (fx, fy, fn)
// where slip is the foot's tangential displacement over the step.
struct FootProblem {
  Eigen::Matrix3d mobility;  // positive definite
  Eigen::Vector3d free;
  double friction = 0.0;
};

// Returns the force that obeys the contact law:
//   gap >= 0, fn >= 0, gap fn = 0
//   |ft| <= friction fn; slip != 0 only where |ft| = friction fn, and then ft is opposite to slip
// A solution always exists; where the law allows several (strong coupling of normal and tangential
// motion), sticking is taken before sliding.
Eigen::Vector3d SolveFoot(const FootProblem& problem, FootState* state);

// Returns how far a force and its motion are from the law: the largest of penetration, gap under
// force and error of the friction law, in the units of the motion (forces are weighed by the
// mobility).
double FootResidual(const FootProblem& problem,
                    const Eigen::Vector3d& force,
                    const Eigen::Vector3d& motion);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_REPLAY_FOOT_LAW_H_
