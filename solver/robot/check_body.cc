#include "solver/robot/check_body.h"

#include <algorithm>
#include <array>

#include "absl/strings/str_cat.h"

namespace gaitshelf::solver {
namespace {

constexpr std::array<const char*, kTripleCount> kAxes = {"x", "y", "z"};

// Principal moments are sums of squares taken two axes at a time, so none exceeds the sum of the
// other two. 1e-9 allows for moments written with ten digits.
void CheckInertiaIsPhysical(const v1::Body& body, Violations* violations) {
  const Triple& inertia = body.inertia_kg_m2();
  if (!IsFiniteTriple(inertia)) {
    return;
  }
  for (int i = 0; i < kTripleCount; ++i) {
    const int j = (i + 1) % kTripleCount;
    const int k = (i + 2) % kTripleCount;
    if (inertia[i] > (inertia[j] + inertia[k]) * (1.0 + 1e-9)) {
      AddFault({absl::StrCat("body.inertia_kg_m2[", i, "]"),
                NumberText(inertia[i]),
                absl::StrCat("must be at most the sum of the other two, ",
                             NumberText(inertia[j] + inertia[k]),
                             " kg m^2: no rigid body is otherwise"),
                "give the principal moments in the order x, y, z, all in kg m^2"},
               violations);
    }
  }
}

// Two slips of units that the ranges cannot see: a mass in grams and an inertia in g m^2.
void CheckBodyFitsItsSize(const v1::Body& body, Violations* violations) {
  const Triple& size = body.size_m();
  if (!IsFiniteTriple(size) || *std::min_element(size.begin(), size.end()) <= 0.0) {
    return;
  }
  // Denser than any solid; the densest elements have about 2.26e4 kg/m^3 (from memory).
  constexpr double kDensestKgPerM3 = 2.3e4;
  const double volume_m3 = size[0] * size[1] * size[2];
  if (body.mass_kg() > kDensestKgPerM3 * volume_m3) {
    AddFault({"body.mass_kg",
              NumberText(body.mass_kg()),
              absl::StrCat("is more than a box of body.size_m ",
                           TripleText(size),
                           " can weigh, even when made of the densest metal"),
              "give kilograms and metres: 1.9 g is 0.0019, 38 mm is 0.038"},
             violations);
  }
  const Triple& inertia = body.inertia_kg_m2();
  for (int i = 0; IsFiniteTriple(inertia) && i < kTripleCount; ++i) {
    const double width_m = size[(i + 1) % kTripleCount];
    const double height_m = size[(i + 2) % kTripleCount];
    // All mass in the box's edges gives a quarter of this; the rest allows for parts that stick out
    // of the drawn box.
    const double most_kg_m2 = body.mass_kg() * (width_m * width_m + height_m * height_m);
    if (body.mass_kg() > 0.0 && inertia[i] > most_kg_m2) {
      AddFault({absl::StrCat("body.inertia_kg_m2[", i, "]"),
                NumberText(inertia[i]),
                absl::StrCat("is too great about ",
                             kAxes.at(static_cast<size_t>(i)),
                             " for a body of this mass and body.size_m; must be at most ",
                             NumberText(most_kg_m2),
                             " kg m^2"),
                "give kilogram square metres: 61 g mm^2 is 6.1e-8"},
               violations);
    }
  }
}

void CheckSupport(const v1::Body& body, Violations* violations) {
  if (body.support() != v1::BODY_SUPPORT_CLAMPED && body.clamp_height_m() != 0.0) {
    AddFault({"body.clamp_height_m",
              NumberText(body.clamp_height_m()),
              "must be left out for a free body",
              "take clamp_height_m out, or set support to BODY_SUPPORT_CLAMPED"},
             violations);
  }
}

}  // namespace

void AddBodyFaults(const v1::Body& body, Violations* violations) {
  CheckInertiaIsPhysical(body, violations);
  CheckBodyFitsItsSize(body, violations);
  CheckPointIsNear(body, body.center_of_mass_m(), "body.center_of_mass_m", violations);
  CheckSupport(body, violations);
}

// Millimetres given as metres put a point far from the body. 10 sizes leave room for any leg.
void CheckPointIsNear(const v1::Body& body,
                      const Triple& point,
                      const std::string& path,
                      Violations* violations) {
  constexpr double kMostSizes = 10.0;
  const Triple& size = body.size_m();
  if (!IsFiniteTriple(size) || !IsFiniteTriple(point)) {
    return;
  }
  const double most_m = kMostSizes * *std::max_element(size.begin(), size.end());
  if (most_m > 0.0 && Norm(point[0], point[1], point[2]) > most_m) {
    AddFault({path,
              TripleText(point),
              absl::StrCat("must be within ",
                           NumberText(most_m),
                           " m, ten times the longest of body.size_m, of the body frame"),
              "give metres: 38 mm is 0.038"},
             violations);
  }
}

}  // namespace gaitshelf::solver
