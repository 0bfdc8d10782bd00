// A leg as the planner sees it: everything the dynamics need as functions of its two minimal
// coordinates.
//
// How a leg comes by these functions (given directly, or compiled from a linkage) is the concern of
// the classes that implement LegModel; nothing else knows.
#ifndef GAITSHELF_SOLVER_LEG_LEG_MODEL_H_
#define GAITSHELF_SOLVER_LEG_LEG_MODEL_H_

#include <array>

#include <Eigen/Core>

#include "solver/mechanism/lagrangian.h"

namespace gaitshelf::solver {

// Index of each function of (lift, swing). Vectors and matrices are in the body frame about the
// body frame's origin.
//
// The leg's kinetic energy is 1/2 w' M w with w = (angular velocity, velocity of the origin,
// coordinate rates) and
//   M = [ inertia   skew(mc)  inertia_rate   ]
//       [ skew(mc)' m E       momentum_rate  ]
//       [ ...       ...       rate_rate      ]
struct LegFunction {
  static constexpr int kFirstMoment = 0;    // mc: mass times centre, 3
  static constexpr int kInertia = 3;        // xx yy zz xy xz yz, 6
  static constexpr int kAngularRate = 9;    // 3 x 2, column by column, 6
  static constexpr int kMomentumRate = 15;  // 3 x 2, column by column, 6
  static constexpr int kRateRate = 21;      // 00 11 01, 3
  static constexpr int kPotential = 24;     // flexures, bimorph springs and stops, 1
  static constexpr int kFoot = 25;          // foot position, 3
  static constexpr int kTravel = 28;        // bimorph tip travel of lift and swing, 2
  static constexpr int kDamping = 30;       // damping 00 11 01, 3
  static constexpr int kCount = 33;
};

using LegValues = std::array<double, LegFunction::kCount>;

// Three of the values from the first on, as a vector.
inline Eigen::Map<Eigen::Vector3d> LegVector(LegValues& values, int first) {
  return Eigen::Map<Eigen::Vector3d>(values.data() + first);
}
inline Eigen::Map<const Eigen::Vector3d> LegVector(const LegValues& values, int first) {
  return Eigen::Map<const Eigen::Vector3d>(values.data() + first);
}

struct LegEvaluation {
  LegValues value;
  std::array<LegValues, 2> first;   // by lift, by swing
  std::array<LegValues, 3> second;  // lift lift, swing swing, lift swing
};

class LegModel {
 public:
  virtual ~LegModel() = default;

  // Mass of the leg, in the units the model was built in.
  virtual double mass() const = 0;

  // Evaluates all functions with their derivatives up to an order at y = (lift, swing). What the
  // evaluation holds of higher ones afterwards is undefined.
  virtual void Evaluate(const Eigen::Vector2d& y,
                        DerivativeOrder order,
                        LegEvaluation* evaluation) const = 0;

  // Evaluates at least the foot's position and the bimorphs' travel; what else the evaluation holds
  // afterwards is undefined.
  virtual void EvaluateFootAndTravel(const Eigen::Vector2d& y,
                                     DerivativeOrder order,
                                     LegEvaluation* evaluation) const {
    Evaluate(y, order, evaluation);
  }
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_LEG_MODEL_H_
