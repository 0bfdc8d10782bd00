// Constants of nature that several rooms use.
#ifndef GAITSHELF_SOLVER_BASE_CONSTANTS_H_
#define GAITSHELF_SOLVER_BASE_CONSTANTS_H_

namespace gaitshelf::solver {

// Acceleration of free fall that every model has, m/s^2; rounded, as in the checks that it is
// compared with.
inline constexpr double kGravityMPerS2 = 9.81;

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_BASE_CONSTANTS_H_
