// Roll, pitch and yaw with the derivatives that a chain rule over them needs.
#ifndef GAITSHELF_SOLVER_LEG_ATTITUDE_H_
#define GAITSHELF_SOLVER_LEG_ATTITUDE_H_

#include <array>

#include <Eigen/Core>

namespace gaitshelf::solver {

// R = Rz(yaw) Ry(pitch) Rx(roll) turns body vectors into the surface frame; the body's angular
// velocity in the body frame is W (roll rate, pitch rate, yaw rate).
struct Attitude {
  Eigen::Matrix3d rotation;
  Eigen::Matrix3d rates;                      // W
  std::array<Eigen::Matrix3d, 3> rotation_d;  // by roll, pitch, yaw
  std::array<Eigen::Matrix3d, 3> rates_d;
  // Second derivatives in the order of SecondIndex.
  std::array<Eigen::Matrix3d, 6> rotation_dd;
  std::array<Eigen::Matrix3d, 6> rates_dd;

  // Index of the second derivative by angles i and j: 00 11 22 01 02 12.
  static constexpr int SecondIndex(int i, int j) { return i == j ? i : i + j + 2; }
};

// How much of an Attitude to fill.
enum class AttitudeOrder { kValue, kFirst, kSecond };

// Fills the attitude of angles = (roll, pitch, yaw) up to the order; the rest is left alone.
void EvaluateAttitude(const Eigen::Vector3d& angles, AttitudeOrder order, Attitude* attitude);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_ATTITUDE_H_
