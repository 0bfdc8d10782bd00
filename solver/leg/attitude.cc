#include "solver/leg/attitude.h"

#include <cmath>

namespace gaitshelf::solver {
namespace {

// Returns m * skew(e_x): the derivative by roll of a product that ends in Rx(roll).
Eigen::Matrix3d TurnRoll(const Eigen::Matrix3d& m) {
  Eigen::Matrix3d result;
  result.col(0).setZero();
  result.col(1) = m.col(2);
  result.col(2) = -m.col(1);
  return result;
}

// Returns skew(e_z) * m: the derivative by yaw of a product that begins with Rz(yaw).
Eigen::Matrix3d TurnYaw(const Eigen::Matrix3d& m) {
  Eigen::Matrix3d result;
  result.row(0) = -m.row(1);
  result.row(1) = m.row(0);
  result.row(2).setZero();
  return result;
}

}  // namespace

void EvaluateAttitude(const Eigen::Vector3d& angles, AttitudeOrder order, Attitude* attitude) {
  const double cr = std::cos(angles[0]), sr = std::sin(angles[0]);
  const double cp = std::cos(angles[1]), sp = std::sin(angles[1]);
  const double cy = std::cos(angles[2]), sy = std::sin(angles[2]);
  Attitude& a = *attitude;
  a.rotation << cy * cp, cy * sp * sr - sy * cr, cy * sp * cr + sy * sr,  //
      sy * cp, sy * sp * sr + cy * cr, sy * sp * cr - cy * sr,            //
      -sp, cp * sr, cp * cr;
  a.rates << 1.0, 0.0, -sp, 0.0, cr, sr * cp, 0.0, -sr, cr * cp;
  if (order == AttitudeOrder::kValue) {
    return;
  }
  a.rotation_d[0] = TurnRoll(a.rotation);
  a.rotation_d[1] << -cy * sp, cy * cp * sr, cy * cp * cr,  //
      -sy * sp, sy * cp * sr, sy * cp * cr,                 //
      -cp, -sp * sr, -sp * cr;
  a.rotation_d[2] = TurnYaw(a.rotation);
  a.rates_d[0] << 0.0, 0.0, 0.0, 0.0, -sr, cr * cp, 0.0, -cr, -sr * cp;
  a.rates_d[1] << 0.0, 0.0, -cp, 0.0, 0.0, -sr * sp, 0.0, 0.0, -cr * sp;
  a.rates_d[2].setZero();
  if (order == AttitudeOrder::kFirst) {
    return;
  }
  a.rotation_dd[0] = TurnRoll(a.rotation_d[0]);
  a.rotation_dd[1] << -cy * cp, -cy * sp * sr, -cy * sp * cr,  //
      -sy * cp, -sy * sp * sr, -sy * sp * cr,                  //
      sp, -cp * sr, -cp * cr;
  a.rotation_dd[2] = TurnYaw(a.rotation_d[2]);
  a.rotation_dd[3] = TurnRoll(a.rotation_d[1]);
  a.rotation_dd[4] = TurnYaw(a.rotation_d[0]);
  a.rotation_dd[5] = TurnYaw(a.rotation_d[1]);
  a.rates_dd[0] << 0.0, 0.0, 0.0, 0.0, -cr, -sr * cp, 0.0, sr, -cr * cp;
  a.rates_dd[1] << 0.0, 0.0, sp, 0.0, 0.0, -sr * cp, 0.0, 0.0, -cr * cp;
  a.rates_dd[2].setZero();
  a.rates_dd[3] << 0.0, 0.0, 0.0, 0.0, 0.0, -cr * sp, 0.0, 0.0, sr * sp;
  a.rates_dd[4].setZero();
  a.rates_dd[5].setZero();
}

}  // namespace gaitshelf::solver
