#include "solver/replay/leg_control.h"

#include <algorithm>

namespace gaitshelf::solver {

using Eigen::Index;
using Eigen::VectorXd;

LegControl::LegControl(const v1::LegController& gains, double gain_ratio, const RobotModel* model)
    : model_(*model) {
  const Index count = model_.drive_count();
  gain_.setZero(count);
  rate_gain_.setZero(count);
  const Scale& scale = model_.scale();
  for (Index i = 0; i < count; ++i) {
    const bool is_lift = i % 2 == 0;
    gain_[i] = gain_ratio * scale.length_m *
               (is_lift ? gains.lift_gain_v_per_m() : gains.swing_gain_v_per_m());
    rate_gain_[i] =
        gain_ratio * scale.speed_m_per_s() *
        (is_lift ? gains.lift_rate_gain_v_s_per_m() : gains.swing_rate_gain_v_s_per_m());
  }
  voltage_v_.setZero(count);
  u_.setZero(count);
  Eigen::MatrixXd by_u;
  model_.DriveJacobian(model_.ReferencePosture(), &by_u);
  sign_.resize(count);
  for (Index i = 0; i < count; ++i) {
    sign_[i] = by_u(model_.base_count() + i, i) < 0.0 ? -1.0 : 1.0;
  }
}

void LegControl::Start(const VectorXd& voltage_v) { voltage_v_ = voltage_v; }

const VectorXd& LegControl::Update(const VectorXd& q,
                                   const VectorXd& v,
                                   const VectorXd& target,
                                   const VectorXd& rate,
                                   const VectorXd& feed_forward_v,
                                   double period) {
  const double period_s = period * model_.scale().time_s;
  for (Index i = 0; i < model_.drive_count(); ++i) {
    const Drive& drive = model_.drives()[static_cast<size_t>(i)];
    if (!drive.is_present) {
      u_[i] = 0.0;
      continue;
    }
    const Index at = model_.base_count() + i;
    const double pull = gain_[i] * (target[i] - q[at]) + rate_gain_[i] * (rate[i] - v[at]);
    // More voltage drives the coordinate the way its force by u points.
    const double reach_v = drive.slew_v_per_s * period_s;
    double voltage_v = feed_forward_v[i] + sign_[i] * pull;
    voltage_v = std::clamp(voltage_v,
                           drive.bias_v + drive.lower * drive.half_range_v,
                           drive.bias_v + drive.upper * drive.half_range_v);
    voltage_v = std::clamp(voltage_v, voltage_v_[i] - reach_v, voltage_v_[i] + reach_v);
    voltage_v_[i] = voltage_v;
    u_[i] = (voltage_v - drive.bias_v) / drive.half_range_v;
  }
  return u_;
}

}  // namespace gaitshelf::solver
