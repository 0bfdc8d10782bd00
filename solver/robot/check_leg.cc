#include "solver/robot/check_leg.h"

#include <cmath>
#include <string>

#include "absl/strings/str_cat.h"
#include "solver/robot/check_bimorph.h"
#include "solver/robot/check_body.h"
#include "solver/robot/check_linkage.h"
#include "solver/robot/check_load.h"
#include "solver/robot/leg_form.h"
#include "solver/robot/rule_walk.h"
#include "solver/robot/triple.h"

namespace gaitshelf::solver {
namespace {

// Faults of one coordinate, whose path is given.
void CheckTravel(const v1::LegCoordinate& coordinate,
                 const std::string& path,
                 Violations* violations) {
  const double lower_m = coordinate.min_m();
  const double upper_m = coordinate.max_m();
  const bool is_above = lower_m > 0.0;
  if (is_above || upper_m < 0.0) {
    AddFault({FieldPath(path, is_above ? "min_m" : "max_m"),
              NumberText(is_above ? lower_m : upper_m),
              "must leave 0, the rest position of the leg, inside min_m to max_m",
              "measure the travel in metres from the rest position: -2 mm is -0.002"},
             violations);
  } else if (!(lower_m < upper_m)) {
    AddFault({FieldPath(path, "max_m"),
              upper_m == 0.0 ? kMissing : NumberText(upper_m),
              absl::StrCat("must be more than min_m, which is ", NumberText(lower_m)),
              "give the ends of the travel in metres: -2 mm to 2 mm is -0.002 to 0.002"},
             violations);
  }
}

void CheckDrive(const v1::LegCoordinate& coordinate,
                const std::string& path,
                Violations* violations) {
  if (!coordinate.has_bimorph()) {
    return;
  }
  constexpr double kLeastRatio = 1e-3;
  const double ratio = coordinate.transmission_ratio();
  if (std::abs(ratio) < kLeastRatio) {
    AddFault({FieldPath(path, "transmission_ratio"),
              ratio == 0.0 ? kMissing : NumberText(ratio),
              "is required with a bimorph and must be 0.001 to 1000 in size",
              "give foot travel per bimorph tip travel: 10 mm for 1 mm is 10, negative when they "
              "move opposite ways"},
             violations);
  }
  const v1::Bimorph& bimorph = coordinate.bimorph();
  const std::string bimorph_path = FieldPath(path, "bimorph");
  const bool is_range = bimorph.min_v() < bimorph.max_v();
  if (!is_range) {
    AddFault({FieldPath(bimorph_path, "max_v"),
              bimorph.max_v() == 0.0 ? kMissing : NumberText(bimorph.max_v()),
              absl::StrCat("must be more than min_v, which is ", NumberText(bimorph.min_v())),
              "give the drive's range in volts, such as min_v: 0 max_v: 200"},
             violations);
  }
  if (is_range && !(bimorph.min_v() <= bimorph.bias_v() && bimorph.bias_v() <= bimorph.max_v())) {
    AddFault({FieldPath(bimorph_path, "bias_v"),
              bimorph.bias_v() == 0.0 ? kMissing : NumberText(bimorph.bias_v()),
              absl::StrCat("must be inside min_v to max_v, ",
                           NumberText(bimorph.min_v()),
                           " to ",
                           NumberText(bimorph.max_v())),
              "give the voltage at which the beam is straight, often the middle of the range"},
             violations);
  }
}

void CheckUnitDirection(const Triple& direction, const std::string& path, Violations* violations) {
  if (!IsFiniteTriple(direction)) {
    return;
  }
  const double norm = Norm(direction[0], direction[1], direction[2]);
  if (std::abs(norm - 1.0) > 1e-6) {
    AddFault({FieldPath(path, "direction_ratio"),
              TripleText(direction),
              absl::StrCat("must have norm 1 within 1e-6, but has ", NumberText(norm)),
              norm > 0.0 ? absl::StrCat("divide it by ", NumberText(norm))
                         : "give a unit vector x, y, z: straight up is [0, 0, 1]"},
             violations);
  }
}

void CheckCoordinate(const v1::Robot& robot,
                     const v1::LegCoordinate& coordinate,
                     const std::string& path,
                     Violations* violations) {
  CheckUnitDirection(coordinate.direction_ratio(), path, violations);
  CheckTravel(coordinate, path, violations);
  CheckDrive(coordinate, path, violations);
  if (coordinate.has_bimorph() && coordinate.transmission_ratio() != 0.0) {
    AddPushFaults(robot,
                  coordinate.bimorph(),
                  1.0 / coordinate.transmission_ratio(),
                  FieldPath(path, "bimorph"),
                  violations);
  }
}

// Lift has to raise the foot, swing has to move it forward, and they must be two motions.
void CheckDirections(const v1::LumpedLeg& leg, const std::string& path, Violations* violations) {
  // About 6 degrees off the plane; below, voltage and travel move the foot hardly at all that way.
  constexpr double kLeastPart = 0.1;
  const Triple& lift = leg.lift().direction_ratio();
  const Triple& swing = leg.swing().direction_ratio();
  if (IsFiniteTriple(lift) && lift[2] < kLeastPart) {
    AddFault({FieldPath(path, "lift.direction_ratio"),
              TripleText(lift),
              "must point up: its z part must be at least 0.1",
              "turn it so that positive lift raises the foot: straight up is [0, 0, 1]"},
             violations);
  }
  if (IsFiniteTriple(swing) && swing[0] < kLeastPart) {
    AddFault({FieldPath(path, "swing.direction_ratio"),
              TripleText(swing),
              "must point forward: its x part must be at least 0.1",
              "turn it so that positive swing moves the foot forward: [1, 0, 0]"},
             violations);
  }
  if (IsFiniteTriple(lift) && IsFiniteTriple(swing)) {
    const double cross = Norm(lift[1] * swing[2] - lift[2] * swing[1],
                              lift[2] * swing[0] - lift[0] * swing[2],
                              lift[0] * swing[1] - lift[1] * swing[0]);
    if (cross < kLeastPart) {
      AddFault({FieldPath(path, "swing.direction_ratio"),
                TripleText(swing),
                absl::StrCat("must not be parallel to lift.direction_ratio, which is ",
                             TripleText(lift)),
                "give two different directions, such as lift [0, 0, 1] and swing [1, 0, 0]"},
               violations);
    }
  }
}

// A clamped body cannot rise, so each foot must reach the surface's level with its lift.
void CheckClampedFoot(const v1::Body& body,
                      const v1::LumpedLeg& leg,
                      const std::string& path,
                      Violations* violations) {
  if (body.support() != v1::BODY_SUPPORT_CLAMPED || !IsFiniteTriple(leg.foot_m()) ||
      !IsFiniteTriple(leg.lift().direction_ratio())) {
    return;
  }
  const double raised_m = body.clamp_height_m() + leg.foot_m()[2] +
                          leg.lift().max_m() * leg.lift().direction_ratio()[2];
  if (raised_m < 0.0) {
    AddFault({FieldPath(path, "foot_m"),
              TripleText(leg.foot_m()),
              absl::StrCat("is below the surface by ",
                           NumberText(-raised_m),
                           " m even when the foot is fully raised"),
              "raise body.clamp_height_m, or the foot"},
             violations);
  }
}

}  // namespace

void AddLegFaults(const v1::Robot& robot, int index, Violations* violations) {
  const v1::Leg& leg = robot.legs(index);
  const std::string form =
      absl::StrCat("legs[", index, leg.has_linkage() ? "].linkage." : "].lumped.");
  for (const int coordinate : {0, 1}) {
    if (const v1::Bimorph* bimorph = BimorphOf(leg, coordinate); bimorph != nullptr) {
      const std::string name = coordinate == 0 ? "lift" : "swing";
      const std::string bimorph_field = leg.has_linkage() ? ".drive.bimorph" : ".bimorph";
      AddBimorphFaults(*bimorph, absl::StrCat(form, name, bimorph_field), violations);
    }
  }
  if (leg.has_linkage()) {
    const std::string linkage = absl::StrCat("legs[", index, "].linkage");
    const size_t before = violations->size();
    AddLinkageFaults(leg.linkage(), linkage, violations);
    if (violations->size() == before) {
      AddLinkageLoadFaults(robot, leg.linkage(), linkage, violations);
    }
    CheckPointIsNear(
        robot.body(), leg.linkage().foot_m(), FieldPath(linkage, "foot_m"), violations);
  }
  if (!leg.has_lumped()) {
    return;
  }
  const std::string path = absl::StrCat("legs[", index, "].lumped");
  if (leg.lumped().has_lift()) {
    CheckCoordinate(robot, leg.lumped().lift(), FieldPath(path, "lift"), violations);
  }
  if (leg.lumped().has_swing()) {
    CheckCoordinate(robot, leg.lumped().swing(), FieldPath(path, "swing"), violations);
  }
  CheckPointIsNear(robot.body(), leg.lumped().foot_m(), FieldPath(path, "foot_m"), violations);
  CheckDirections(leg.lumped(), path, violations);
  CheckClampedFoot(robot.body(), leg.lumped(), path, violations);
}

}  // namespace gaitshelf::solver
