// Constants that several rooms use.
#ifndef GAITSHELF_SOLVER_BASE_CONSTANTS_H_
#define GAITSHELF_SOLVER_BASE_CONSTANTS_H_

#include <limits>
#include <numbers>

namespace gaitshelf::solver {

inline constexpr double kPi = std::numbers::pi;
inline constexpr double kDegreesPerRad = 180.0 / kPi;

// Marks what was not measured.
inline constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

// Acceleration of free fall that every model has, m/s^2; rounded, as in the checks that it is
// compared with.
inline constexpr double kGravityMPerS2 = 9.81;

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_BASE_CONSTANTS_H_
