#include "solver/robot/triple.h"

#include <algorithm>
#include <cmath>

#include "absl/types/span.h"
#include "solver/robot/violation.h"

namespace gaitshelf::solver {

bool IsFiniteTriple(const Triple& triple) {
  return triple.size() == kTripleCount &&
         std::all_of(triple.begin(), triple.end(), [](double x) { return std::isfinite(x); });
}

double Norm(double x, double y, double z) { return std::hypot(x, y, z); }

std::string TripleText(const Triple& triple) {
  return NumbersText(absl::MakeConstSpan(triple.data(), static_cast<size_t>(triple.size())));
}

}  // namespace gaitshelf::solver
