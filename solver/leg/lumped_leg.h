// A leg without a linkage: its foot moves along two straight directions, each with a mass, a
// spring, a damper and mechanical stops.
#ifndef GAITSHELF_SOLVER_LEG_LUMPED_LEG_H_
#define GAITSHELF_SOLVER_LEG_LUMPED_LEG_H_

#include <array>

#include <Eigen/Core>

#include "gaitshelf/v1/robot.pb.h"

#include "solver/leg/leg_model.h"
#include "solver/leg/scale.h"
#include "solver/leg/stop.h"

namespace gaitshelf::solver {

class LumpedLeg final : public LegModel {
 public:
  // The leg must have passed its check: every array has its size.
  LumpedLeg(const v1::LumpedLeg& leg, const Scale& scale);

  double mass() const override { return foot_mass_; }
  void Evaluate(const Eigen::Vector2d& y,
                DerivativeOrder order,
                LegEvaluation* evaluation) const override;

 private:
  struct Coordinate {
    Eigen::Vector3d direction;
    double moving_mass = 0.0;  // links and bimorph, seen at the foot
    double stiffness = 0.0;    // flexures and bimorph, seen at the foot
    double damping = 0.0;
    StoppedTravel travel;
    double travel_rate = 0.0;  // bimorph tip travel per foot travel
  };

  static Coordinate Read(const v1::LegCoordinate& coordinate, const Scale& scale);

  double foot_mass_;
  Eigen::Vector3d foot_;
  std::array<Coordinate, 2> coordinates_;
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_LUMPED_LEG_H_
