#include "solver/base/planar_motion.h"

#include <cmath>

namespace gaitshelf::solver {
namespace {

// sin(turn) / turn and (1 - cos(turn)) / turn: where a steady turn leads after a way of 1.
struct Arc {
  double along = 1.0;
  double across = 0.0;
};

Arc ArcOf(double turn) {
  // Below this the next terms of the series are smaller than round-off.
  constexpr double kSmallTurn = 1e-4;
  if (std::abs(turn) < kSmallTurn) {
    return {1.0 - turn * turn / 6.0, 0.5 * turn * (1.0 - turn * turn / 12.0)};
  }
  const double half_sine = std::sin(0.5 * turn);
  return {std::sin(turn) / turn, 2.0 * half_sine * half_sine / turn};
}

}  // namespace

PlanarPose PlanarPose::Then(const PlanarPose& change) const {
  const double c = std::cos(heading);
  const double s = std::sin(heading);
  return {
      x + c * change.x - s * change.y, y + s * change.x + c * change.y, heading + change.heading};
}

PlanarPose PlanarPose::Inverse() const {
  const double c = std::cos(heading);
  const double s = std::sin(heading);
  return {-(c * x + s * y), s * x - c * y, -heading};
}

PlanarPose PlanarMotion::End() const {
  const Arc arc = ArcOf(turn);
  return {arc.along * advance - arc.across * sidestep,
          arc.across * advance + arc.along * sidestep,
          turn};
}

PlanarPose PlanarMotion::EndByAdvance() const {
  const Arc arc = ArcOf(turn);
  return {arc.along, arc.across, 0.0};
}

PlanarMotion MotionTo(const PlanarPose& end) {
  const Arc arc = ArcOf(end.heading);
  const double square = arc.along * arc.along + arc.across * arc.across;
  return {(arc.along * end.x + arc.across * end.y) / square,
          (arc.along * end.y - arc.across * end.x) / square,
          end.heading};
}

MotionMatch CompareMotions(const PlanarMotion& wanted, const PlanarMotion& done, double lever) {
  const double turn = lever * wanted.turn;
  const double square =
      wanted.advance * wanted.advance + wanted.sidestep * wanted.sidestep + turn * turn;
  if (square == 0.0) {
    return {};
  }
  MotionMatch match;
  match.share =
      (wanted.advance * done.advance + wanted.sidestep * done.sidestep + turn * lever * done.turn) /
      square;
  const double advance = done.advance - match.share * wanted.advance;
  const double sidestep = done.sidestep - match.share * wanted.sidestep;
  const double other_turn = lever * done.turn - match.share * turn;
  match.aside =
      std::sqrt((advance * advance + sidestep * sidestep + other_turn * other_turn) / square);
  return match;
}

}  // namespace gaitshelf::solver
