// Closes the loops of a linkage: all angles as functions of its minimal coordinates.
#ifndef GAITSHELF_SOLVER_MECHANISM_CLOSURE_H_
#define GAITSHELF_SOLVER_MECHANISM_CLOSURE_H_

#include <Eigen/Core>

#include "absl/status/status.h"
#include "solver/mechanism/linkage.h"

namespace gaitshelf::solver {

// A posture with closed loops.
struct ClosedPosture {
  Eigen::VectorXd angles;
  LinkagePose pose;
  // Derivative of the angles by the minimal coordinates.
  Eigen::MatrixXd rates;
  // Reciprocal condition number (an estimate) of the loop equations' derivatives by the dependent
  // angles: 0 in a singular posture, where the minimal coordinates no longer say where the links
  // are. 1 without loops.
  double regularity = 1.0;
  // Sign of their determinant, which changes only in a singular posture.
  double branch = 1.0;
};

// Finds the postures of one linkage, on the assembly that contains the rest posture.
class LoopClosure {
 public:
  explicit LoopClosure(const Linkage* linkage);

  // Starts at the rest posture, in which every loop is closed by the way a linkage is given.
  //
  // Errors:
  //   kFailedPrecondition  the loop equations are dependent at rest
  absl::Status Start(ClosedPosture* posture) const;

  // Moves a closed posture to other minimal coordinates in one step. Takes it along the posture's
  // tangent, then Newton's method; many steps follow one assembly further than one step does.
  //
  // Errors: the posture is left alone.
  //   kOutOfRange  Newton's method does not close the loops, or lands on another assembly
  absl::Status Step(const Eigen::Ref<const Eigen::VectorXd>& coordinates,
                    ClosedPosture* posture) const;

  // Moves a closed posture in `count` equal steps.
  absl::Status Walk(const Eigen::Ref<const Eigen::VectorXd>& coordinates,
                    int count,
                    ClosedPosture* posture) const;

  // Returns the loop whose equations are nearest to dependence; at least one loop is needed.
  int WeakestLoop(const ClosedPosture& posture) const;

  Eigen::VectorXd CoordinatesOf(const Eigen::Ref<const Eigen::VectorXd>& angles) const;

 private:
  absl::Status Close(ClosedPosture* posture) const;
  void Linearise(ClosedPosture* posture) const;

  const Linkage& linkage_;
  std::vector<int> dependent_;
  double length_ = 1.0;  // size of the linkage, to judge residuals by
};

// A range is refused when a singular posture is nearer than this (own choice: stops give way by
// some per cent, and fits over the range get poor), and is looked at no further than the other.
inline constexpr double kLeastReach = 1.15;
inline constexpr double kMostReach = 3.0;

// A leg is refused when the loop equations' condition number exceeds 50 anywhere in its range:
// links then turn many times as fast as the coordinates, and every fit is poor (own choice; the
// demonstration stays below 20).
inline constexpr double kLeastRangeRegularity = 1.0 / 50.0;

// How far a range of two coordinates is from a singular posture.
struct RangeReach {
  // The range, stretched by this about 0, touches a singular posture; at most what was asked for.
  double ratio = 0.0;
  // The last posture with closed loops, when the ratio is less than that.
  ClosedPosture last;
  // The posture of least regularity that was met within the range itself.
  ClosedPosture stiffest;
};

// Walks from rest along the four half axes and the four corners of the range until the loops are
// lost.
RangeReach FindReach(const LoopClosure& closure,
                     const ClosedPosture& rest,
                     const Eigen::Vector2d& lower,
                     const Eigen::Vector2d& upper,
                     double most_ratio);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MECHANISM_CLOSURE_H_
