// A stored gait as a function of time: cubic Hermite curves through its knots.
//
// Positions are cubic, rates their derivative, voltages straight lines between knots: a voltage
// between two allowed ones is allowed, an overshooting cubic might not be. A periodic gait goes on
// for ever in both directions, the body moved on by the cycle's motion each time; a hop holds its
// first and last knot.
#ifndef GAITSHELF_SERVICE_PLAYBACK_GAIT_CURVE_H_
#define GAITSHELF_SERVICE_PLAYBACK_GAIT_CURVE_H_

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "gaitshelf/v1/gait.pb.h"

#include "absl/status/statusor.h"
#include "solver/base/planar_motion.h"

namespace gaitshelf::service {

// One point of the curve; arrays as in the gait.
struct CurvePoint {
  double phase_ratio = 0.0;
  std::vector<double> leg_position_m;    // 2L
  std::vector<double> leg_rate_m_per_s;  // 2L
  std::vector<double> voltage_v;         // 2L
  std::vector<std::int32_t> contact;     // F, 1 in contact
  std::array<double, 3> body_position_m{};
  std::array<double, 3> body_attitude_rad{};
};

// What one leg coordinate does over a whole gait.
struct LegBounds {
  double min_m = 0.0;
  double max_m = 0.0;
  double greatest_rate_m_per_s = 0.0;
};

class GaitCurve {
 public:
  // Copies what it needs of the gait.
  //
  // Errors:
  //   kDataLoss   an array has the wrong length, or a number is none that a robot could follow
  static absl::StatusOr<GaitCurve> Create(const v1::Gait& gait);

  // Duration of one cycle, or of the whole hop, s.
  double cycle_s() const { return cycle_s_; }
  int coordinate_count() const { return coordinate_count_; }
  int foot_count() const { return foot_count_; }

  // What one cycle does to the body, in m; nothing for a hop.
  const solver::PlanarMotion& motion() const { return motion_; }

  // Evaluates at a time after knot 0, s; reuses the point's storage.
  void Evaluate(double time_s, CurvePoint* point) const;

  // Bounds of each leg coordinate: 2L. Exact for the rate; those of the position may be a little
  // wide.
  std::vector<LegBounds> Bounds() const;

 private:
  // A time as whole cycles, the knot before it and the share of the way to the next knot.
  struct Place {
    double cycles = 0.0;
    int knot = 0;
    double share_ratio = 0.0;
    double phase_ratio = 0.0;
  };
  // One channel between two knots: c0 + c1 s + c2 s^2 + c3 s^3, s the share of the way.
  struct Cubic {
    double c0 = 0.0;
    double c1 = 0.0;
    double c2 = 0.0;
    double c3 = 0.0;

    double ValueAt(double s) const { return c0 + s * (c1 + s * (c2 + s * c3)); }
    double SlopeAt(double s) const { return c1 + s * (2.0 * c2 + 3.0 * s * c3); }
  };

  GaitCurve() = default;

  Place PlaceOf(double time_s) const;
  // The cubic from a knot on through the values that `at` gives at knots, where needed beyond the
  // ends.
  template <typename At>
  Cubic CubicThrough(int knot, const At& at) const;
  Cubic LegCubic(int knot, int channel) const;
  // Channels x, y, z, roll, pitch, yaw.
  Cubic BodyCubic(int knot, std::size_t channel) const;
  // Lays out the body's poses from the knot before the first to the second after the last.
  void ExtendBody(const v1::Gait& gait);
  void Fill(const Place& place, CurvePoint* point) const;

  bool is_periodic_ = false;
  int knot_count_ = 0;
  int coordinate_count_ = 0;
  int foot_count_ = 0;
  double knot_period_s_ = 0.0;
  double cycle_s_ = 0.0;
  solver::PlanarMotion motion_;
  std::vector<double> leg_position_m_;
  std::vector<double> voltage_v_;
  std::vector<std::array<double, 6>> body_;  // knots -1 to N + 1
  std::vector<std::int32_t> contact_;  // N x F, contact over the interval that starts at the knot
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_GAIT_CURVE_H_
