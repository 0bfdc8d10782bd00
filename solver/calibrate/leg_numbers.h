// The numbers of a leg's description that bench tests tell: which of them belong to lift and which
// to swing, and how to change them together.
#ifndef GAITSHELF_SOLVER_CALIBRATE_LEG_NUMBERS_H_
#define GAITSHELF_SOLVER_CALIBRATE_LEG_NUMBERS_H_

#include <array>
#include <vector>

#include "gaitshelf/v1/robot.pb.h"

#include "absl/status/statusor.h"

namespace gaitshelf::solver {

// Factors on a leg's numbers; index 0 is lift, 1 swing.
struct LegFactors {
  std::array<double, 2> stiffness = {1.0, 1.0};  // flexures and bimorph, as felt at the foot
  std::array<double, 2> damping = {1.0, 1.0};    // force per rate, as felt at the foot
  std::array<double, 2> gain = {1.0, 1.0};       // force per volt
  double mass = 1.0;                             // of everything that moves with the leg
};

class LegNumbers {
 public:
  // A lumped leg has numbers of its own for each coordinate. A flexure of a linkage belongs to the
  // coordinate which it stiffens more at rest.
  //
  // Errors are those of CompileLeg.
  static absl::StatusOr<LegNumbers> Create(const v1::Leg& leg);

  // Returns the leg, which must be the one this was made of, with its numbers changed. Bimorphs
  // that were given by layers are given by numbers afterwards.
  v1::Leg Scaled(const v1::Leg& leg, const LegFactors& factors) const;

 private:
  LegNumbers() = default;

  // Coordinate that each flexure of a linkage belongs to, in the description's order.
  std::vector<std::size_t> flexure_axis_;
  std::vector<std::size_t> closing_axis_;
};

// Returns the coordinate's bimorph for changing; null when the coordinate is passive.
v1::Bimorph* MutableBimorph(v1::Leg* leg, std::size_t axis);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_LEG_NUMBERS_H_
