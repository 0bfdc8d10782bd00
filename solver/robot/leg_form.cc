#include "solver/robot/leg_form.h"

namespace gaitshelf::solver {

double LegMass(const v1::Leg& leg) {
  if (!leg.has_linkage()) {
    return leg.lumped().foot_mass_kg();
  }
  double mass_kg = 0.0;
  for (const v1::Link& link : leg.linkage().links()) {
    mass_kg += link.mass_kg();
  }
  return mass_kg;
}

const Triple& RestFoot(const v1::Leg& leg) {
  return leg.has_linkage() ? leg.linkage().foot_m() : leg.lumped().foot_m();
}

const v1::Bimorph* BimorphOf(const v1::Leg& leg, int coordinate) {
  if (leg.has_linkage()) {
    const v1::LinkageCoordinate& of =
        coordinate == 0 ? leg.linkage().lift() : leg.linkage().swing();
    return of.has_drive() ? &of.drive().bimorph() : nullptr;
  }
  const v1::LegCoordinate& of = coordinate == 0 ? leg.lumped().lift() : leg.lumped().swing();
  return of.has_bimorph() ? &of.bimorph() : nullptr;
}

double TotalMass(const v1::Robot& robot) {
  double mass_kg = robot.body().mass_kg();
  for (const v1::Leg& leg : robot.legs()) {
    mass_kg += LegMass(leg);
  }
  return mass_kg;
}

}  // namespace gaitshelf::solver
