#include "solver/robot/check_linkage.h"

#include <cmath>
#include <map>
#include <set>

#include <Eigen/Eigenvalues>

#include "absl/strings/str_cat.h"
#include "solver/robot/leg_linkage.h"
#include "solver/robot/rule_walk.h"
#include "solver/robot/triple.h"

namespace gaitshelf::solver {
namespace {

constexpr char kBody[] = "body";

std::string At(const std::string& path, const std::string& list, int index) {
  return absl::StrCat(path, ".", list, "[", index, "]");
}

// Adds a fault when a name was used before or is that of the body.
void CheckName(const std::string& name,
               const std::string& field,
               std::map<std::string, std::string>* first_field,
               Violations* violations) {
  if (name == kBody) {
    AddFault({field, QuotedText(name), "is the name of the body", "give it another name"},
             violations);
  } else if (const auto [entry, is_new] = first_field->emplace(name, field);
             !is_new && !name.empty()) {
    AddFault({field,
              QuotedText(name),
              absl::StrCat("is also the name in ", entry->second),
              "give every link, and every flexure, of a leg a name of its own"},
             violations);
  }
}

void CheckNames(const v1::LinkageLeg& leg, const std::string& path, Violations* violations) {
  std::map<std::string, std::string> links;
  for (int i = 0; i < leg.links_size(); ++i) {
    CheckName(leg.links(i).name(), At(path, "links", i) + ".name", &links, violations);
  }
  std::map<std::string, std::string> flexures;
  for (int i = 0; i < leg.flexures_size(); ++i) {
    CheckName(leg.flexures(i).name(), At(path, "flexures", i) + ".name", &flexures, violations);
  }
  for (int i = 0; i < leg.closing_flexures_size(); ++i) {
    CheckName(leg.closing_flexures(i).name(),
              At(path, "closing_flexures", i) + ".name",
              &flexures,
              violations);
  }
}

void CheckReference(const std::string& name,
                    const std::set<std::string>& known,
                    const std::string& field,
                    const std::string& kind,
                    Violations* violations) {
  if (!name.empty() && known.count(name) == 0) {
    AddFault({field,
              QuotedText(name),
              absl::StrCat("names no ", kind, " of this leg"),
              absl::StrCat("give the name of a ", kind)},
             violations);
  }
}

void CheckReferences(const v1::LinkageLeg& leg, const std::string& path, Violations* violations) {
  std::set<std::string> links;
  for (const v1::Link& link : leg.links()) {
    links.insert(link.name());
  }
  std::set<std::string> places = links;
  places.insert(kBody);
  std::set<std::string> flexures;
  for (int i = 0; i < leg.flexures_size(); ++i) {
    const v1::Flexure& flexure = leg.flexures(i);
    const std::string at = At(path, "flexures", i);
    flexures.insert(flexure.name());
    CheckReference(flexure.parent(), places, at + ".parent", "link", violations);
    CheckReference(flexure.child(), links, at + ".child", "link", violations);
  }
  for (int i = 0; i < leg.closing_flexures_size(); ++i) {
    const v1::ClosingFlexure& flexure = leg.closing_flexures(i);
    const std::string at = At(path, "closing_flexures", i);
    CheckReference(flexure.link_a(), places, at + ".link_a", "link", violations);
    CheckReference(flexure.link_b(), places, at + ".link_b", "link", violations);
  }
  CheckReference(leg.foot_link(), links, path + ".foot_link", "link", violations);
  CheckReference(leg.lift().flexure(), flexures, path + ".lift.flexure", "flexure", violations);
  CheckReference(leg.swing().flexure(), flexures, path + ".swing.flexure", "flexure", violations);
  CheckReference(leg.lift().drive().link(), links, path + ".lift.drive.link", "link", violations);
  CheckReference(leg.swing().drive().link(), links, path + ".swing.drive.link", "link", violations);
  if (!leg.lift().flexure().empty() && leg.lift().flexure() == leg.swing().flexure()) {
    AddFault({path + ".swing.flexure",
              QuotedText(leg.swing().flexure()),
              "is also the flexure of lift",
              "name the flexure whose angle moves the foot along the body"},
             violations);
  }
}

// Every link is the child of one flexure, and the flexures lead back to the body.
void CheckTree(const v1::LinkageLeg& leg, const std::string& path, Violations* violations) {
  std::map<std::string, std::string> parent_of;
  for (int i = 0; i < leg.flexures_size(); ++i) {
    const v1::Flexure& flexure = leg.flexures(i);
    if (!parent_of.emplace(flexure.child(), flexure.parent()).second) {
      AddFault({At(path, "flexures", i) + ".child",
                QuotedText(flexure.child()),
                "hangs on another flexure already",
                "let one flexure carry each link, and make those that shut loops closing_flexures"},
               violations);
    }
  }
  for (int i = 0; i < leg.links_size(); ++i) {
    std::string name = leg.links(i).name();
    for (int k = 0; k <= leg.links_size() && parent_of.count(name) != 0; ++k) {
      name = parent_of[name];
    }
    if (name != kBody) {
      AddFault({At(path, "links", i) + ".name",
                QuotedText(leg.links(i).name()),
                "does not hang on the body",
                "add a flexure whose child it is, and lead its parents back to \"body\""},
               violations);
    }
  }
  const int needed = 2 + 2 * leg.closing_flexures_size();
  if (leg.flexures_size() != needed) {
    AddFault({path + ".flexures",
              absl::StrCat(leg.flexures_size(), " flexures"),
              absl::StrCat("must be 2 more than twice the closing flexures, here ", needed),
              "count again: each closing flexure takes two motions away, and two must be left"},
             violations);
  }
}

void CheckUnit(const Triple& direction, const std::string& field, Violations* violations) {
  if (!IsFiniteTriple(direction)) {
    return;
  }
  const double norm = Norm(direction[0], direction[1], direction[2]);
  if (std::abs(norm - 1.0) > 1e-6) {
    AddFault({field,
              TripleText(direction),
              absl::StrCat("must have norm 1 within 1e-6, but has ", NumberText(norm)),
              "give a unit vector x, y, z: straight up is [0, 0, 1]"},
             violations);
  }
}

void CheckDirections(const v1::LinkageLeg& leg, const std::string& path, Violations* violations) {
  for (int i = 0; i < leg.flexures_size(); ++i) {
    CheckUnit(leg.flexures(i).axis_ratio(), At(path, "flexures", i) + ".axis_ratio", violations);
  }
  for (int i = 0; i < leg.closing_flexures_size(); ++i) {
    CheckUnit(leg.closing_flexures(i).axis_ratio(),
              At(path, "closing_flexures", i) + ".axis_ratio",
              violations);
  }
  CheckUnit(leg.lift().drive().direction_ratio(), path + ".lift.drive.direction_ratio", violations);
  CheckUnit(
      leg.swing().drive().direction_ratio(), path + ".swing.drive.direction_ratio", violations);
}

// Principal moments of a rigid body are positive and keep the triangle inequality.
void CheckInertia(const v1::Link& link, const std::string& field, Violations* violations) {
  const auto& i = link.inertia_kg_m2();
  Eigen::Matrix3d inertia;
  if (i.size() != 6) {
    return;
  }
  inertia << i[0], i[3], i[4], i[3], i[1], i[5], i[4], i[5], i[2];
  if (!inertia.allFinite()) {
    return;
  }
  const Eigen::Vector3d moments =
      Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>(inertia, Eigen::EigenvaluesOnly).eigenvalues();
  // Thin rods are on the border; their figures are rounded.
  constexpr double kRounding = 1.02;
  if (!(moments[0] > 0.0) || moments[2] > kRounding * (moments[0] + moments[1])) {
    AddFault({field,
              NumbersText({i.data(), 6}),
              absl::StrCat("has principal moments ",
                           NumbersText({moments.data(), 3}),
                           "; they must be more than 0 and none may exceed the sum of the others"),
              "give xx, yy, zz, xy, xz, yz about the centre of mass in kilogram square metres"},
             violations);
  }
}

void CheckRange(const v1::LinkageCoordinate& coordinate,
                const std::string& path,
                Violations* violations) {
  if (coordinate.min_rad() > 0.0) {
    AddFault({path + ".min_rad",
              NumberText(coordinate.min_rad()),
              "must be at most 0, the rest posture",
              "measure angles from the rest posture in radians"},
             violations);
  }
  if (coordinate.max_rad() < 0.0 || !(coordinate.min_rad() < coordinate.max_rad())) {
    AddFault({path + ".max_rad",
              coordinate.max_rad() == 0.0 ? kMissing : NumberText(coordinate.max_rad()),
              absl::StrCat("must be at least 0 and more than min_rad, which is ",
                           NumberText(coordinate.min_rad())),
              "give the ends of the range in radians from the rest posture"},
             violations);
  }
  if (!coordinate.has_drive()) {
    return;
  }
  const v1::Bimorph& bimorph = coordinate.drive().bimorph();
  if (!(bimorph.min_v() < bimorph.max_v())) {
    AddFault({path + ".drive.bimorph.max_v",
              bimorph.max_v() == 0.0 ? kMissing : NumberText(bimorph.max_v()),
              absl::StrCat("must be more than min_v, which is ", NumberText(bimorph.min_v())),
              "give the drive's range in volts, such as min_v: 0 max_v: 200"},
             violations);
  } else if (!(bimorph.min_v() <= bimorph.bias_v() && bimorph.bias_v() <= bimorph.max_v())) {
    AddFault({path + ".drive.bimorph.bias_v",
              bimorph.bias_v() == 0.0 ? kMissing : NumberText(bimorph.bias_v()),
              "must be inside min_v to max_v",
              "give the voltage at which the beam is straight, often the middle of the range"},
             violations);
  }
}

// Planar loops: all hinges of a loop have parallel axes.
void CheckLoopIsPlanar(const Linkage& linkage,
                       const LoopHinge& loop,
                       const std::string& field,
                       Violations* violations) {
  for (const int link : LinksOfLoop(linkage, loop)) {
    const Eigen::Vector3d& axis = linkage.links[static_cast<size_t>(link)].axis;
    if (axis.cross(loop.axis).norm() > 1e-6) {
      AddFault({field,
                NumbersText({loop.axis.data(), 3}),
                absl::StrCat("is not parallel to the axis ",
                             NumbersText({axis.data(), 3}),
                             " of another flexure of its loop; only planar loops are known"),
                "give all flexures of a loop the same axis, or the opposite one"},
               violations);
      return;
    }
  }
}

// Lift raises the foot, swing moves it forward, and they are two motions.
void CheckFootMoves(const v1::LinkageLeg& leg,
                    const FootRates& rates,
                    const std::string& path,
                    Violations* violations) {
  constexpr double kLeastWay_m = 1e-9;
  constexpr double kLeastShare = 0.1;
  if (rates.way_m_per_rad.maxCoeff() < kLeastWay_m) {
    AddFault({path + ".foot_link",
              QuotedText(leg.foot_link()),
              "moves neither with lift nor with swing",
              "name the link that carries the foot, and flexures on its way to the body"},
             violations);
    return;
  }
  for (Eigen::Index i = 0; i < 2; ++i) {
    if (rates.share[i] < kLeastShare) {
      AddFault({path + (i == 0 ? ".lift.flexure" : ".swing.flexure"),
                absl::StrCat("share ", NumberText(rates.share[i])),
                i == 0 ? "must raise the foot: at least 0.1 of its motion must go up"
                       : "must move the foot forward: at least 0.1 of its motion must go that way",
                "name the flexure whose angle does, or move the foot"},
               violations);
      return;
    }
  }
  if (rates.sine < kLeastShare) {
    AddFault({path + ".swing.flexure",
              QuotedText(leg.swing().flexure()),
              absl::StrCat("moves the foot along the line on which lift moves it: the sine between "
                           "them is ",
                           NumberText(rates.sine),
                           " and must be at least 0.1"),
              "name two flexures that move the foot two ways"},
             violations);
  }
}

std::string PostureText(const LoopClosure& closure, const ClosedPosture& posture) {
  const Eigen::VectorXd angles = closure.CoordinatesOf(posture.angles);
  return absl::StrCat(
      "lift ", NumberText(angles[0]), " rad, swing ", NumberText(angles[1]), " rad");
}

// No singular posture lies in the range or near it.
void CheckRangeIsRegular(const LegLinkage& setup,
                         const LoopClosure& closure,
                         const ClosedPosture& rest,
                         const std::string& path,
                         Violations* violations) {
  const RangeReach reach = FindReach(closure, rest, setup.lower_rad, setup.upper_rad, kMostReach);
  constexpr char kMend[] =
      "shorten the range of lift or swing, or make the links of the loop longer";
  if (reach.ratio < kLeastReach) {
    AddFault({At(path, "closing_flexures", closure.WeakestLoop(reach.last)),
              absl::StrCat("singular posture near ", PostureText(closure, reach.last)),
              absl::StrCat("its loop cannot be closed beyond ",
                           NumberText(reach.ratio),
                           " times the range; it must be closed up to 1.15 times"),
              kMend},
             violations);
  } else if (reach.stiffest.regularity < kLeastRangeRegularity) {
    AddFault({At(path, "closing_flexures", closure.WeakestLoop(reach.stiffest)),
              absl::StrCat("nearly singular posture at ", PostureText(closure, reach.stiffest)),
              absl::StrCat("the loop equations have the condition number ",
                           NumberText(1.0 / reach.stiffest.regularity),
                           " there; it must be at most 50"),
              kMend},
             violations);
  }
}

// Whether the loops can move as the ranges ask.
void CheckMotion(const v1::LinkageLeg& leg,
                 const LegLinkage& setup,
                 const std::string& path,
                 Violations* violations) {
  const LoopClosure closure(&setup.linkage);
  ClosedPosture rest;
  if (!closure.Start(&rest).ok()) {
    AddFault(
        {At(path, "closing_flexures", closure.WeakestLoop(rest)),
         "dependent loop equations",
         "does not hold its loop in the rest posture when lift and swing are held",
         "choose other flexures for lift and swing, or bend the loop away from its dead point"},
        violations);
    return;
  }
  CheckFootMoves(leg, MeasureFootRates(setup, rest), path, violations);
  CheckRangeIsRegular(setup, closure, rest, path, violations);
}

}  // namespace

void AddLinkageFaults(const v1::LinkageLeg& leg, const std::string& path, Violations* violations) {
  const size_t before = violations->size();
  CheckNames(leg, path, violations);
  CheckReferences(leg, path, violations);
  CheckTree(leg, path, violations);
  CheckDirections(leg, path, violations);
  for (int i = 0; i < leg.links_size(); ++i) {
    CheckInertia(leg.links(i), At(path, "links", i) + ".inertia_kg_m2", violations);
  }
  CheckRange(leg.lift(), path + ".lift", violations);
  CheckRange(leg.swing(), path + ".swing", violations);
  // Faults of single fields, found before, may be of this leg too; then its linkage means nothing.
  Violations of_fields;
  AddRuleFaults(leg, path, &of_fields);
  if (violations->size() > before || !of_fields.empty()) {
    return;
  }
  const absl::StatusOr<LegLinkage> setup = ReadLegLinkage(leg);
  if (!setup.ok()) {
    AddFault({path, "linkage", std::string(setup.status().message()), "mend the linkage"},
             violations);
    return;
  }
  const size_t before_planes = violations->size();
  for (size_t i = 0; i < setup->linkage.loops.size(); ++i) {
    CheckLoopIsPlanar(setup->linkage,
                      setup->linkage.loops[i],
                      At(path, "closing_flexures", static_cast<int>(i)) + ".axis_ratio",
                      violations);
  }
  if (violations->size() == before_planes) {
    CheckMotion(leg, *setup, path, violations);
  }
}

}  // namespace gaitshelf::solver
