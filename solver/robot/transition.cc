#include "solver/robot/transition.h"

#include <algorithm>
#include <cmath>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"

namespace gaitshelf::solver {
namespace {

// Fewer cycles leave no foot the time for a step.
constexpr double kFewestCycles = 0.5;
// A cycle of the first gait on fewer knots is not that gait any more.
constexpr double kFewestKnotsPerCycle = 20.0;
// What a plan is solved on within a minute.
constexpr int kMostKnots = 1000;

int NearestKnot(double phase_ratio, const v1::Gait& gait) {
  return static_cast<int>(std::lround(phase_ratio * gait.knot_count())) % gait.knot_count();
}

std::string DigestStart(const std::string& digest) {
  return absl::StrCat(digest.substr(0, 12), "...");
}

// What can be said of one of the gaits. `field` is "from_gait" or "to_gait".
void CheckGait(const std::string& field,
               const v1::Gait& gait,
               const std::string& robot_digest,
               const std::string& surface_digest,
               Violations* violations) {
  const auto add = [&](const std::string& problem, const std::string& mend) {
    AddFault({absl::StrCat("task.transition.", field), QuotedText(gait.name()), problem, mend},
             violations);
  };
  const auto check_version =
      [&](const std::string& kind, const std::string& of_gait, const std::string& of_order) {
        if (of_gait != of_order) {
          add(absl::StrCat("was solved for another version of a ",
                           kind,
                           ", ",
                           DigestStart(of_gait),
                           "; the order is for ",
                           DigestStart(of_order)),
              absl::StrCat("order that gait anew for this ", kind, " and name the new one"));
        }
      };
  check_version("robot", gait.robot_digest(), robot_digest);
  check_version("surface", gait.surface_digest(), surface_digest);
  if (!gait.is_periodic() || !gait.task().has_advance() || gait.knot_count() < 4) {
    add("must be a gait that goes on for ever", "name a gait that was ordered with an advance");
  } else if (gait.audit().verdict() != v1::VERDICT_GOOD) {
    add("has not passed its audit", "name a gait that is good");
  }
}

void CheckSpan(const TransitionGrid& grid, const v1::GaitOrder& order, Violations* violations) {
  const std::string value = absl::StrCat(order.task().transition().cycle_count());
  if (grid.cycles < kFewestCycles) {
    AddFault({"task.transition.cycle_count",
              value,
              absl::StrFormat("leaves %.2f cycles between the phases; a foot needs %g for a step",
                              grid.cycles,
                              kFewestCycles),
              "give one cycle more, or other phases"},
             violations);
  }
  if (grid.knot_count > kMostKnots) {
    AddFault({"task.transition.cycle_count",
              value,
              absl::StrFormat(
                  "makes %d knots; a transition has at most %d", grid.knot_count, kMostKnots),
              "give fewer cycles, or lead into a gait on fewer knots"},
             violations);
  }
}

}  // namespace

TransitionGrid PlaceTransition(const v1::Transition& transition, const TransitionGaits& gaits) {
  TransitionGrid grid;
  grid.from_knot = NearestKnot(transition.from_phase_ratio(), gaits.from);
  grid.to_knot = NearestKnot(transition.to_phase_ratio(), gaits.to);
  const double from_phase = static_cast<double>(grid.from_knot) / gaits.from.knot_count();
  const double to_phase = static_cast<double>(grid.to_knot) / gaits.to.knot_count();
  const double ahead = to_phase - from_phase;
  // More than one cycle less than the count, and at most the count.
  grid.cycles = transition.cycle_count() + ahead - std::ceil(ahead);
  // The frequency goes from the one to the other, evenly about the middle.
  const double duration_s =
      2.0 * grid.cycles / (gaits.from.stride_frequency_hz() + gaits.to.stride_frequency_hz());
  grid.knot_count = 1 + static_cast<int>(std::lround(duration_s / gaits.to.knot_period_s()));
  return grid;
}

Violations CheckTransition(const v1::GaitOrder& order,
                           const std::string& robot_digest,
                           const std::string& surface_digest,
                           const TransitionGaits& gaits) {
  Violations violations;
  CheckGait("from_gait", gaits.from, robot_digest, surface_digest, &violations);
  CheckGait("to_gait", gaits.to, robot_digest, surface_digest, &violations);
  if (!violations.empty()) {
    return violations;
  }
  const double knots = 1.0 / (gaits.from.stride_frequency_hz() * gaits.to.knot_period_s());
  if (knots < kFewestKnotsPerCycle) {
    AddFault(
        {"task.transition.to_gait",
         QuotedText(gaits.to.name()),
         absl::StrFormat("has its knots %.2f ms apart, %.0f in a cycle of the first gait; %.0f "
                         "are needed",
                         1e3 * gaits.to.knot_period_s(),
                         knots,
                         kFewestKnotsPerCycle),
         absl::StrFormat("order the second gait on %.0f knots",
                         std::ceil(gaits.to.knot_count() * kFewestKnotsPerCycle / knots))},
        &violations);
    return violations;
  }
  CheckSpan(PlaceTransition(order.task().transition(), gaits), order, &violations);
  return violations;
}

}  // namespace gaitshelf::solver
