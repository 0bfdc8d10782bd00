#include "solver/robot/leg_linkage.h"

#include <map>
#include <string>
#include <vector>

#include <Eigen/Geometry>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"
#include "solver/robot/bimorph.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Vector3d;

// Index of every link by name, "body" included.
using LinkIndex = std::map<std::string, int>;

absl::StatusOr<int> Find(const LinkIndex& index, const std::string& name) {
  const auto entry = index.find(name);
  if (entry == index.end()) {
    return absl::InvalidArgumentError(absl::StrCat("linkage: there is no link \"", name, "\""));
  }
  return entry->second;
}

template <typename Numbers>
absl::StatusOr<Vector3d> ReadVector(const Numbers& numbers) {
  if (numbers.size() != 3) {
    return absl::InvalidArgumentError(
        absl::StrCat("linkage: a point or direction has ", numbers.size(), " numbers, not 3"));
  }
  return Vector3d(Eigen::Map<const Vector3d>(numbers.data()));
}

template <typename Hinge>
absl::Status FillBending(const v1::FlexureBending& bending, Hinge* hinge) {
  hinge->stiffness = FlexureStiffness(bending);
  hinge->damping = bending.damping_s() * hinge->stiffness;
  return absl::OkStatus();
}

absl::Status FillMass(const v1::Link& description, LinkageLink* link) {
  if (description.inertia_kg_m2_size() != 6) {
    return absl::InvalidArgumentError("linkage: a link's inertia needs 6 numbers");
  }
  link->mass = description.mass_kg();
  GAITSHELF_ASSIGN_OR_RETURN(link->center, ReadVector(description.center_of_mass_m()));
  const auto& i = description.inertia_kg_m2();
  link->inertia << i[0], i[3], i[4], i[3], i[1], i[5], i[4], i[5], i[2];
  return absl::OkStatus();
}

FlexureLabel LabelOf(const std::string& name, const v1::FlexureBending& bending) {
  FlexureLabel label;
  label.name = name;
  if (bending.has_film()) {
    label.strain_per_rad = 0.5 * bending.film().thickness_m() / bending.film().length_m();
  }
  return label;
}

// Adds the links that hang, directly or not, on the body, parents first.
absl::Status ReadTree(const v1::LinkageLeg& leg, LinkIndex* index, LegLinkage* result) {
  Linkage* const linkage = &result->linkage;
  std::map<std::string, const v1::Link*> links;
  for (const v1::Link& link : leg.links()) {
    links[link.name()] = &link;
  }
  bool has_grown = true;
  while (has_grown) {
    has_grown = false;
    for (const v1::Flexure& flexure : leg.flexures()) {
      const auto parent = index->find(flexure.parent());
      const auto child = links.find(flexure.child());
      if (parent == index->end() || child == links.end() || index->count(flexure.child()) != 0) {
        continue;
      }
      LinkageLink link;
      link.parent = parent->second;
      GAITSHELF_ASSIGN_OR_RETURN(link.point, ReadVector(flexure.point_m()));
      GAITSHELF_ASSIGN_OR_RETURN(link.axis, ReadVector(flexure.axis_ratio()));
      link.axis.normalize();
      GAITSHELF_RETURN_IF_ERROR(FillBending(flexure.bending(), &link));
      GAITSHELF_RETURN_IF_ERROR(FillMass(*child->second, &link));
      (*index)[flexure.child()] = static_cast<int>(linkage->links.size());
      linkage->links.push_back(link);
      result->link_flexures.push_back(LabelOf(flexure.name(), flexure.bending()));
      has_grown = true;
    }
  }
  if (linkage->links.size() != static_cast<size_t>(leg.links_size()) ||
      leg.flexures_size() != leg.links_size()) {
    return absl::InvalidArgumentError("linkage: the flexures are not one tree on the body");
  }
  return absl::OkStatus();
}

absl::Status ReadLoops(const v1::LinkageLeg& leg, const LinkIndex& index, LegLinkage* result) {
  Linkage* const linkage = &result->linkage;
  for (const v1::ClosingFlexure& flexure : leg.closing_flexures()) {
    LoopHinge loop;
    GAITSHELF_ASSIGN_OR_RETURN(loop.a, Find(index, flexure.link_a()));
    GAITSHELF_ASSIGN_OR_RETURN(loop.b, Find(index, flexure.link_b()));
    GAITSHELF_ASSIGN_OR_RETURN(loop.point, ReadVector(flexure.point_m()));
    GAITSHELF_ASSIGN_OR_RETURN(loop.axis, ReadVector(flexure.axis_ratio()));
    loop.axis.normalize();
    GAITSHELF_RETURN_IF_ERROR(FillBending(flexure.bending(), &loop));
    linkage->loops.push_back(loop);
    result->closing_flexures.push_back(LabelOf(flexure.name(), flexure.bending()));
  }
  if (linkage->angle_count() != 2 + linkage->loop_equation_count()) {
    return absl::InvalidArgumentError(
        "linkage: there must be 2 flexures more than twice the closing flexures");
  }
  return absl::OkStatus();
}

absl::StatusOr<int> FindFlexure(const v1::LinkageLeg& leg,
                                const LinkIndex& index,
                                const std::string& name) {
  for (const v1::Flexure& flexure : leg.flexures()) {
    if (flexure.name() == name) {
      return Find(index, flexure.child());
    }
  }
  return absl::InvalidArgumentError(absl::StrCat("linkage: there is no flexure \"", name, "\""));
}

absl::StatusOr<LinkagePin> ReadPin(const v1::LinkageCoordinate& coordinate,
                                   const LinkIndex& index) {
  LinkagePin pin;
  if (!coordinate.has_drive()) {
    return pin;
  }
  const v1::LinkageDrive& drive = coordinate.drive();
  pin.is_present = true;
  GAITSHELF_ASSIGN_OR_RETURN(pin.link, Find(index, drive.link()));
  GAITSHELF_ASSIGN_OR_RETURN(pin.point, ReadVector(drive.pin_m()));
  GAITSHELF_ASSIGN_OR_RETURN(pin.direction, ReadVector(drive.direction_ratio()));
  pin.stiffness = WithoutLayers(drive.bimorph()).stiffness_n_per_m();
  pin.mass = drive.bimorph().moving_mass_kg();
  return pin;
}

}  // namespace

double FlexureStiffness(const v1::FlexureBending& bending) {
  if (!bending.has_film()) {
    return bending.stiffness_n_m_per_rad();
  }
  const v1::FlexureFilm& film = bending.film();
  const double thickness_m = film.thickness_m();
  return film.modulus_pa() * film.width_m() * thickness_m * thickness_m * thickness_m /
         (12.0 * film.length_m());
}

absl::StatusOr<LegLinkage> ReadLegLinkage(const v1::LinkageLeg& leg) {
  LegLinkage result;
  Linkage& linkage = result.linkage;
  LinkIndex index = {{"body", kBodyLink}};
  GAITSHELF_RETURN_IF_ERROR(ReadTree(leg, &index, &result));
  GAITSHELF_RETURN_IF_ERROR(ReadLoops(leg, index, &result));
  GAITSHELF_ASSIGN_OR_RETURN(linkage.foot_link, Find(index, leg.foot_link()));
  GAITSHELF_ASSIGN_OR_RETURN(linkage.foot, ReadVector(leg.foot_m()));
  for (int i = 0; i < 2; ++i) {
    const v1::LinkageCoordinate& coordinate = i == 0 ? leg.lift() : leg.swing();
    GAITSHELF_ASSIGN_OR_RETURN(const int link, FindFlexure(leg, index, coordinate.flexure()));
    linkage.independent.push_back(link);
    GAITSHELF_ASSIGN_OR_RETURN(const LinkagePin pin, ReadPin(coordinate, index));
    linkage.pins.push_back(pin);
    result.lower_rad[i] = coordinate.min_rad();
    result.upper_rad[i] = coordinate.max_rad();
    result.stop_stiffness[i] = coordinate.stop_stiffness_n_per_m();
  }
  if (linkage.independent[0] == linkage.independent[1]) {
    return absl::InvalidArgumentError("linkage: lift and swing are the same flexure");
  }
  return result;
}

FootRates MeasureFootRates(const LegLinkage& leg, const ClosedPosture& rest) {
  constexpr double kLeastArm_m = 1e-9;
  const Linkage& linkage = leg.linkage;
  Eigen::Matrix3Xd jacobian;
  PointJacobian(linkage, rest.pose, linkage.foot_link, linkage.foot, &jacobian);
  const Eigen::Matrix<double, 3, 2> foot = jacobian * rest.rates;
  FootRates result;
  for (Eigen::Index i = 0; i < 2; ++i) {
    const double arm_m = foot(i == 0 ? 2 : 0, i);
    const double way_m = foot.col(i).norm();
    result.share[i] = way_m > kLeastArm_m ? std::abs(arm_m) / way_m : 0.0;
    result.rad_per_m[i] = std::abs(arm_m) > kLeastArm_m ? 1.0 / arm_m : 0.0;
  }
  result.way_m_per_rad = foot.colwise().norm().transpose();
  const double area = result.way_m_per_rad.prod();
  result.sine = area > kLeastArm_m * kLeastArm_m
                    ? Vector3d(foot.col(0)).cross(Vector3d(foot.col(1))).norm() / area
                    : 0.0;
  result.travel.setZero();
  for (size_t i = 0; i < linkage.pins.size(); ++i) {
    const LinkagePin& pin = linkage.pins[i];
    if (pin.is_present) {
      PointJacobian(linkage, rest.pose, pin.link, pin.point, &jacobian);
      const Eigen::RowVector2d by_angle = pin.direction.transpose() * jacobian * rest.rates;
      result.travel.row(static_cast<Eigen::Index>(i)) =
          by_angle.cwiseProduct(result.rad_per_m.transpose());
    }
  }
  return result;
}

}  // namespace gaitshelf::solver
