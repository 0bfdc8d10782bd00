// A leg without a linkage: its foot moves along two straight directions, each with a mass, a
// spring, a damper and mechanical stops.
#ifndef GAITSHELF_SOLVER_LEG_LUMPED_LEG_H_
#define GAITSHELF_SOLVER_LEG_LUMPED_LEG_H_

#include <array>

#include <Eigen/Core>

#include "gaitshelf/v1/robot.pb.h"

#include "solver/leg/leg_model.h"
#include "solver/leg/scale.h"

namespace gaitshelf::solver {

// Potential of one stop at a depth beyond the travel, with its first and second derivative.
//
//   0                                   depth <= 0
//   k depth^3 / (6 w)                   0 < depth < w
//   k ((depth - w/2)^2 / 2 + w^2 / 24)  depth >= w
// The force grows smoothly over the width w, so that Newton's method meets no jump of the
// stiffness, and is that of a spring k beyond.
std::array<double, 3> StopPotential(double depth, double stiffness, double width);

class LumpedLeg final : public LegModel {
 public:
  // The leg must have passed its check: every array has its size.
  LumpedLeg(const v1::LumpedLeg& leg, const Scale& scale);

  double mass() const override { return foot_mass_; }
  void Evaluate(const Eigen::Vector2d& y, LegEvaluation* evaluation) const override;

 private:
  struct Coordinate {
    Eigen::Vector3d direction;
    double moving_mass;  // links and bimorph, seen at the foot
    double stiffness;    // flexures and bimorph, seen at the foot
    double damping;
    double lower;
    double upper;
    double stop_stiffness;
    double stop_width;
    double travel_rate;  // bimorph tip travel per foot travel
  };

  static Coordinate Read(const v1::LegCoordinate& coordinate, const Scale& scale);

  double foot_mass_;
  Eigen::Vector3d foot_;
  std::array<Coordinate, 2> coordinates_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_LUMPED_LEG_H_
