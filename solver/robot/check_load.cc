#include "solver/robot/check_load.h"

#include <algorithm>
#include <cmath>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "solver/base/constants.h"
#include "solver/robot/bimorph.h"
#include "solver/robot/leg_form.h"
#include "solver/robot/leg_linkage.h"
#include "solver/robot/rule_walk.h"

namespace gaitshelf::solver {
namespace {

// Stiffness of all flexures and the lift bimorph against the lift of the foot, N/m, at rest.
double LiftStiffness(const LegLinkage& setup, const ClosedPosture& rest, const FootRates& rates) {
  const Linkage& linkage = setup.linkage;
  const Eigen::VectorXd turns = rest.rates.col(0) * rates.rad_per_m[0];
  double stiffness = linkage.pins[0].stiffness * rates.travel(0, 0) * rates.travel(0, 0);
  for (Eigen::Index i = 0; i < turns.size(); ++i) {
    stiffness += linkage.links[static_cast<size_t>(i)].stiffness * turns[i] * turns[i];
  }
  for (const LoopHinge& loop : linkage.loops) {
    const double turn = HingeSigns(linkage, loop).dot(turns);
    stiffness += loop.stiffness * turn * turn;
  }
  return stiffness;
}

// Each leg carries its share of the weight: what the lift drive does not hold, the springs must
// before the foot is pushed up to the end of its range.
void CheckHold(const v1::Robot& robot,
               const v1::LinkageLeg& leg,
               const LegLinkage& setup,
               const ClosedPosture& rest,
               const std::string& path,
               Violations* violations) {
  if (robot.body().support() == v1::BODY_SUPPORT_CLAMPED || robot.body_feet_size() > 0) {
    return;
  }
  const FootRates rates = MeasureFootRates(setup, rest);
  double hold_n = 0.0;
  if (leg.lift().has_drive()) {
    const v1::Bimorph bimorph = WithoutLayers(leg.lift().drive().bimorph());
    const double swing_v =
        std::max(bimorph.max_v() - bimorph.bias_v(), bimorph.bias_v() - bimorph.min_v());
    hold_n = bimorph.gain_n_per_v() * swing_v * std::abs(rates.travel(0, 0));
  }
  const double upper_m =
      std::max(setup.lower_rad[0] / rates.rad_per_m[0], setup.upper_rad[0] / rates.rad_per_m[0]);
  const double load_n = TotalMass(robot) * kGravityMPerS2 / robot.legs_size();
  const double spring_n = LiftStiffness(setup, rest, rates) * upper_m;
  if (load_n > hold_n + spring_n) {
    AddFault(
        {path + ".lift",
         absl::StrFormat("%.3g N at the foot", hold_n + spring_n),
         absl::StrFormat("its drive holds %.3g N and its springs %.3g N at the end of its range, "
                         "less than the leg's share of the weight, %.3g N",
                         hold_n,
                         spring_n,
                         load_n),
         "give the drive more gain or lever, or the robot less mass"},
        violations);
  }
}

}  // namespace

void AddPushFaults(const v1::Robot& robot,
                   const v1::Bimorph& described,
                   double tip_rate,
                   const std::string& path,
                   Violations* violations) {
  constexpr double kMostWeights = 100.0;
  const v1::Bimorph bimorph = WithoutLayers(described);
  const double weight_n = TotalMass(robot) * kGravityMPerS2;
  const double push_n =
      bimorph.gain_n_per_v() * (bimorph.max_v() - bimorph.min_v()) * std::abs(tip_rate);
  if (!(weight_n > 0.0) || !std::isfinite(push_n) || push_n <= kMostWeights * weight_n) {
    return;
  }
  const bool has_layers = described.has_layers();
  AddFault({FieldPath(path, has_layers ? "layers" : "gain_n_per_v"),
            NumberText(bimorph.gain_n_per_v()),
            absl::StrCat("makes a force over the voltage range, seen at the foot, of ",
                         NumberText(push_n),
                         " N; must be at most 100 times the robot's weight, ",
                         NumberText(kMostWeights * weight_n),
                         " N"),
            has_layers ? "give metres, pascals and metres per volt: 127 um is 1.27e-4, 274 pm/V is "
                         "2.74e-10"
                       : "give newtons per volt: 1.8 mN/V is 0.0018"},
           violations);
}

void AddLinkageLoadFaults(const v1::Robot& robot,
                          const v1::LinkageLeg& leg,
                          const std::string& path,
                          Violations* violations) {
  const absl::StatusOr<LegLinkage> setup = ReadLegLinkage(leg);
  if (!setup.ok()) {
    return;
  }
  ClosedPosture rest;
  if (!LoopClosure(&setup->linkage).Start(&rest).ok()) {
    return;
  }
  const FootRates rates = MeasureFootRates(*setup, rest);
  const size_t before = violations->size();
  if (leg.lift().has_drive()) {
    AddPushFaults(robot,
                  leg.lift().drive().bimorph(),
                  rates.travel(0, 0),
                  path + ".lift.drive.bimorph",
                  violations);
  }
  if (leg.swing().has_drive()) {
    AddPushFaults(robot,
                  leg.swing().drive().bimorph(),
                  rates.travel(1, 1),
                  path + ".swing.drive.bimorph",
                  violations);
  }
  if (violations->size() == before) {
    CheckHold(robot, leg, *setup, rest, path, violations);
  }
}

}  // namespace gaitshelf::solver
