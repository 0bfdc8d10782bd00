#include "service/playback/gait_curve.h"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// A foot counts as loaded above this share of the greatest normal force of the gait: far above what
// a converged plan leaves on a foot in the air, far below any step.
constexpr double kLoadRatio = 1e-3;

// What a trajectory may be: far more than any plan has (400 knots at most, 12.5 us apart at least),
// and so little that no sum and no quotient of its numbers overflows. Gaits come in bundles of
// others, too.
constexpr int kMostKnots = 1000;
constexpr int kMostParts = 1000;  // legs or feet
constexpr double kShortestKnot_s = 1e-6;
constexpr double kLongestCycle_s = 100.0;
constexpr double kGreatestValue = 1e6;  // m, rad, V or N

// False for what is no number, too.
bool IsWithin(double value) { return std::abs(value) <= kGreatestValue; }

bool IsTrajectory(const v1::Gait& gait) {
  return gait.knot_count() >= 2 && gait.knot_count() <= kMostKnots &&
         gait.leg_names_size() <= kMostParts && gait.foot_names_size() <= kMostParts &&
         gait.knot_period_s() >= kShortestKnot_s &&
         gait.knot_period_s() * gait.knot_count() <= kLongestCycle_s &&
         IsWithin(gait.advance_m()) && IsWithin(gait.sidestep_m()) && IsWithin(gait.turn_rad());
}

absl::StatusOr<std::vector<double>> CopyChecked(
    const v1::Gait& gait,
    const char* field,
    const google::protobuf::RepeatedField<double>& values,
    int width) {
  if (values.size() != gait.knot_count() * width) {
    return absl::DataLossError(absl::StrCat("gait ",
                                            gait.name(),
                                            ": ",
                                            field,
                                            " has ",
                                            values.size(),
                                            " values; its ",
                                            gait.knot_count(),
                                            " knots need ",
                                            gait.knot_count() * width));
  }
  for (int i = 0; i < values.size(); ++i) {
    if (!IsWithin(values[i])) {
      return absl::DataLossError(absl::StrCat("gait ",
                                              gait.name(),
                                              ": ",
                                              field,
                                              "[",
                                              i,
                                              "] is ",
                                              values[i],
                                              "; it must be a number from -1e6 to 1e6"));
    }
  }
  return std::vector<double>(values.begin(), values.end());
}

std::vector<std::int32_t> ContactsOf(const std::vector<double>& foot_force_n) {
  double greatest_n = 0.0;
  for (std::size_t i = 2; i < foot_force_n.size(); i += 3) {
    greatest_n = std::max(greatest_n, foot_force_n[i]);
  }
  std::vector<std::int32_t> contact;
  contact.reserve(foot_force_n.size() / 3);
  for (std::size_t i = 2; i < foot_force_n.size(); i += 3) {
    contact.push_back(foot_force_n[i] > kLoadRatio * greatest_n ? 1 : 0);
  }
  return contact;
}

// Does a motion to a body's x, y, z, roll, pitch, yaw.
void MoveOn(const solver::PlanarMotion& motion, std::array<double, 6>* pose) {
  constexpr std::size_t kYaw = 5;
  const solver::PlanarPose moved = motion.End().Then({(*pose)[0], (*pose)[1], (*pose)[kYaw]});
  (*pose)[0] = moved.x;
  (*pose)[1] = moved.y;
  (*pose)[kYaw] = moved.heading;
}

}  // namespace

absl::StatusOr<GaitCurve> GaitCurve::Create(const v1::Gait& gait) {
  if (!IsTrajectory(gait)) {
    return absl::DataLossError(absl::StrCat("gait ",
                                            gait.name(),
                                            ": ",
                                            gait.knot_count(),
                                            " knots ",
                                            gait.knot_period_s(),
                                            " s apart with an advance of ",
                                            gait.advance_m(),
                                            " m are no trajectory"));
  }
  GaitCurve curve;
  curve.is_periodic_ = gait.is_periodic();
  curve.knot_count_ = gait.knot_count();
  curve.coordinate_count_ = 2 * gait.leg_names_size();
  curve.foot_count_ = gait.foot_names_size();
  curve.knot_period_s_ = gait.knot_period_s();
  const int intervals = gait.is_periodic() ? gait.knot_count() : gait.knot_count() - 1;
  curve.cycle_s_ = intervals * gait.knot_period_s();
  if (gait.is_periodic()) {
    curve.motion_ = {gait.advance_m(), gait.sidestep_m(), gait.turn_rad()};
  }
  GAITSHELF_ASSIGN_OR_RETURN(
      curve.leg_position_m_,
      CopyChecked(gait, "leg_position_m", gait.leg_position_m(), curve.coordinate_count_));
  GAITSHELF_ASSIGN_OR_RETURN(
      curve.voltage_v_, CopyChecked(gait, "voltage_v", gait.voltage_v(), curve.coordinate_count_));
  GAITSHELF_RETURN_IF_ERROR(
      CopyChecked(gait, "body_position_m", gait.body_position_m(), 3).status());
  GAITSHELF_RETURN_IF_ERROR(
      CopyChecked(gait, "body_attitude_rad", gait.body_attitude_rad(), 3).status());
  curve.ExtendBody(gait);
  GAITSHELF_ASSIGN_OR_RETURN(
      const std::vector<double> force_n,
      CopyChecked(gait, "foot_force_n", gait.foot_force_n(), 3 * curve.foot_count_));
  curve.contact_ = ContactsOf(force_n);
  return curve;
}

GaitCurve::Place GaitCurve::PlaceOf(double time_s) const {
  Place place;
  if (!is_periodic_) {
    const double knots =
        std::clamp(time_s / knot_period_s_, 0.0, static_cast<double>(knot_count_ - 1));
    place.knot = std::min(static_cast<int>(knots), knot_count_ - 2);
    place.share_ratio = knots - place.knot;
    place.phase_ratio = knots / (knot_count_ - 1);
    return place;
  }
  const double turns = time_s / cycle_s_;
  place.cycles = std::floor(turns);
  place.phase_ratio = turns - place.cycles;
  const double knots = place.phase_ratio * knot_count_;
  place.knot = std::min(static_cast<int>(knots), knot_count_ - 1);
  place.share_ratio = knots - place.knot;
  return place;
}

template <typename At>
GaitCurve::Cubic GaitCurve::CubicThrough(int knot, const At& at) const {
  // Central differences; a hop starts and ends at rest.
  const auto slope = [&](int k) {
    if (!is_periodic_ && (k == 0 || k == knot_count_ - 1)) {
      return 0.0;
    }
    return 0.5 * (at(k + 1) - at(k - 1));
  };
  const double p0 = at(knot);
  const double p1 = at(knot + 1);
  const double m0 = slope(knot);
  const double m1 = slope(knot + 1);
  return {
      .c0 = p0, .c1 = m0, .c2 = 3.0 * (p1 - p0) - 2.0 * m0 - m1, .c3 = 2.0 * (p0 - p1) + m0 + m1};
}

GaitCurve::Cubic GaitCurve::LegCubic(int knot, int channel) const {
  return CubicThrough(knot, [&](int k) {
    const int row = (k + knot_count_) % knot_count_;
    return leg_position_m_[static_cast<std::size_t>(row * coordinate_count_ + channel)];
  });
}

GaitCurve::Cubic GaitCurve::BodyCubic(int knot, std::size_t channel) const {
  return CubicThrough(knot, [&](int k) { return body_[static_cast<std::size_t>(k + 1)][channel]; });
}

void GaitCurve::ExtendBody(const v1::Gait& gait) {
  for (int k = -1; k <= knot_count_ + 1; ++k) {
    const int lap = k < 0 ? -1 : k / knot_count_;
    const int row = k - lap * knot_count_;
    std::array<double, 6> pose{};
    for (int i = 0; i < 3; ++i) {
      pose[static_cast<std::size_t>(i)] = gait.body_position_m(3 * row + i);
      pose[static_cast<std::size_t>(i + 3)] = gait.body_attitude_rad(3 * row + i);
    }
    MoveOn(motion_.Times(lap), &pose);
    body_.push_back(pose);
  }
}

std::vector<LegBounds> GaitCurve::Bounds() const {
  std::vector<LegBounds> bounds;
  const int intervals = is_periodic_ ? knot_count_ : knot_count_ - 1;
  for (int i = 0; i < coordinate_count_; ++i) {
    LegBounds bound{.min_m = leg_position_m_[static_cast<std::size_t>(i)],
                    .max_m = leg_position_m_[static_cast<std::size_t>(i)]};
    for (int knot = 0; knot < intervals; ++knot) {
      const Cubic cubic = LegCubic(knot, i);
      // A cubic lies between the least and the greatest of its four control points.
      const double end_m = cubic.ValueAt(1.0);
      const double after_m = cubic.c0 + cubic.c1 / 3.0;
      const double before_m = end_m - cubic.SlopeAt(1.0) / 3.0;
      bound.min_m = std::min({bound.min_m, cubic.c0, after_m, before_m, end_m});
      bound.max_m = std::max({bound.max_m, cubic.c0, after_m, before_m, end_m});
      // The slope is a parabola: greatest at an end or at its vertex.
      const double vertex = cubic.c3 == 0.0 ? 0.0 : -cubic.c2 / (3.0 * cubic.c3);
      for (const double s : {0.0, 1.0, std::clamp(vertex, 0.0, 1.0)}) {
        bound.greatest_rate_m_per_s =
            std::max(bound.greatest_rate_m_per_s, std::abs(cubic.SlopeAt(s)) / knot_period_s_);
      }
    }
    bounds.push_back(bound);
  }
  return bounds;
}

void GaitCurve::Fill(const Place& place, CurvePoint* point) const {
  const int next = (place.knot + 1) % knot_count_;
  for (int i = 0; i < coordinate_count_; ++i) {
    const auto index = static_cast<std::size_t>(i);
    const Cubic leg = LegCubic(place.knot, i);
    point->leg_position_m[index] = leg.ValueAt(place.share_ratio);
    point->leg_rate_m_per_s[index] = leg.SlopeAt(place.share_ratio) / knot_period_s_;
    const double before_v =
        voltage_v_[static_cast<std::size_t>(place.knot * coordinate_count_ + i)];
    const double after_v = voltage_v_[static_cast<std::size_t>(next * coordinate_count_ + i)];
    point->voltage_v[index] = before_v + place.share_ratio * (after_v - before_v);
  }
  std::array<double, 6> pose{};
  for (std::size_t i = 0; i < pose.size(); ++i) {
    pose[i] = BodyCubic(place.knot, i).ValueAt(place.share_ratio);
  }
  MoveOn(motion_.Times(place.cycles), &pose);
  std::copy_n(pose.begin(), 3, point->body_position_m.begin());
  std::copy_n(pose.begin() + 3, 3, point->body_attitude_rad.begin());
  for (int i = 0; i < foot_count_; ++i) {
    point->contact[static_cast<std::size_t>(i)] =
        contact_[static_cast<std::size_t>(place.knot * foot_count_ + i)];
  }
}

void GaitCurve::Evaluate(double time_s, CurvePoint* point) const {
  const Place place = PlaceOf(time_s);
  point->phase_ratio = place.phase_ratio;
  point->leg_position_m.resize(static_cast<std::size_t>(coordinate_count_));
  point->leg_rate_m_per_s.resize(static_cast<std::size_t>(coordinate_count_));
  point->voltage_v.resize(static_cast<std::size_t>(coordinate_count_));
  point->contact.resize(static_cast<std::size_t>(foot_count_));
  Fill(place, point);
}

}  // namespace gaitshelf::service
