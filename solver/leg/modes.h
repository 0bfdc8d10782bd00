// Modes of a robot about its straight posture: small motions by which it rings, with their
// frequencies, damping and names.
//
//   M a + C v + K x = 0  on the motions that the feet allow,  K = -d(force)/dq
// K holds the curvature that feet and drives under load have (geometric terms), so the posture's
// own forces count. Feet that over-determine the posture do no harm: motions are taken from the
// null space of the foot conditions, by rank.
//
// Linear and at rest: no impact, no friction between sticking and sliding, no leg controller.
#ifndef GAITSHELF_SOLVER_LEG_MODES_H_
#define GAITSHELF_SOLVER_LEG_MODES_H_

#include <array>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "absl/status/statusor.h"
#include "solver/leg/robot_model.h"
#include "solver/leg/standing.h"

namespace gaitshelf::solver {

// A stride frequency this near to a mode, as a share of the mode's frequency, sits on it. Own
// choice: a lightly damped oscillator driven 8 % off still moves about six times as far as under
// the same force at rest, 1 / |1 - 1.08^2|.
inline constexpr double kOnModeRatio = 0.08;

// Samples per period of the highest mode. Two is the bare minimum (sampling theorem); four is
// common practice, no source.
inline constexpr double kBareSamplesPerPeriod = 2.0;
inline constexpr double kSamplesPerPeriod = 4.0;

// Parts of a motion: the body's six, then lifts and swings of all legs together.
inline constexpr std::array<const char*, 8> kMotionNames =
    {"surge", "sway", "heave", "roll", "pitch", "yaw", "lift", "swing"};

struct Mode {
  // The motion with the largest share, and the second one when it has at least 10 %: "roll-sway".
  std::string name;
  double frequency_hz = 0.0;   // without damping; 0 for a motion that nothing holds back
  double damping_ratio = 0.0;  // share of critical damping; 0 at 0 Hz
  // True when the posture is no stable one and falls by this motion; frequency_hz is 0.
  bool is_unstable = false;
  // Share of the kinetic energy in each part, in the order of kMotionNames, sum 1. Coupled parts
  // can push one a little below 0.
  std::array<double, 8> energy_share{};
  Eigen::VectorXd shape;  // motion of each coordinate, scaled, kinetic energy 1/2 at unit speed
};

// Returns the modes in the order of their frequency; as many as motions are free: coordinates minus
// rank of the foot conditions.
//   standing   equilibrium of the same model; for kFreeFlight that of model.InFreeFall()
std::vector<Mode> FindModes(const RobotModel& model, const Standing& standing);

// Returns the highest frequency, 0 without modes.
double HighestFrequency(const std::vector<Mode>& modes);

// Returns the modes that a stride frequency sits on (kOnModeRatio).
std::vector<Mode> ModesNear(const std::vector<Mode>& modes, double frequency_hz);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_MODES_H_
