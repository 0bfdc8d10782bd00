#include "solver/mechanism/linkage_dynamics.h"

#include <Eigen/Geometry>

namespace gaitshelf::solver {
namespace {

using Eigen::Index;
using Eigen::Matrix3d;
using Eigen::Vector3d;

// A velocity of a rigid body, or its momentum, about the body frame's origin.
struct Screw {
  Vector3d angular = Vector3d::Zero();
  Vector3d linear = Vector3d::Zero();
};

double Dot(const Screw& a, const Screw& b) {
  return a.angular.dot(b.angular) + a.linear.dot(b.linear);
}

// How the velocity b changes for someone who moves with -a.
Screw Commutator(const Screw& a, const Screw& b) {
  return {a.angular.cross(b.angular), a.angular.cross(b.linear) + a.linear.cross(b.angular)};
}

Screw HingeScrew(const LinkagePose& pose, size_t i) {
  return {pose.axis[i], pose.point[i].cross(pose.axis[i])};
}

// Mass, first moment and inertia about the body frame's origin.
struct RigidMass {
  double mass = 0.0;
  Vector3d first = Vector3d::Zero();
  Matrix3d inertia = Matrix3d::Zero();

  Screw Momentum(const Screw& velocity) const {
    return {inertia * velocity.angular + first.cross(velocity.linear),
            mass * velocity.linear - first.cross(velocity.angular)};
  }
  void Add(const RigidMass& other) {
    mass += other.mass;
    first += other.first;
    inertia += other.inertia;
  }
};

RigidMass MassOf(const LinkageLink& link, const LinkagePose& pose, size_t i) {
  RigidMass result;
  const Vector3d center = pose.rotation[i] * link.center + pose.shift[i];
  result.mass = link.mass;
  result.first = link.mass * center;
  result.inertia = pose.rotation[i] * link.inertia * pose.rotation[i].transpose();
  result.inertia.diagonal().array() += link.mass * center.squaredNorm();
  result.inertia -= link.mass * center * center.transpose();
  return result;
}

}  // namespace

LinkageDynamics::LinkageDynamics(const Linkage& linkage) : linkage_(linkage) {
  const Index n = linkage_.angle_count();
  stiffness_.setZero(n, n);
  damping_.setZero(n, n);
  closing_signs_.setZero(static_cast<Index>(linkage_.loops.size()), n);
  for (Index i = 0; i < n; ++i) {
    const LinkageLink& link = linkage_.links[static_cast<size_t>(i)];
    mass_ += link.mass;
    stiffness_(i, i) = link.stiffness;
    damping_(i, i) = link.damping;
  }
  for (Index i = 0; i < closing_signs_.rows(); ++i) {
    const LoopHinge& loop = linkage_.loops[static_cast<size_t>(i)];
    const Eigen::VectorXd signs = HingeSigns(linkage_, loop);
    closing_signs_.row(i) = signs.transpose();
    stiffness_ += loop.stiffness * signs * signs.transpose();
    damping_ += loop.damping * signs * signs.transpose();
  }
}

void LinkageDynamics::EvaluateTerms(const LinkagePose& pose,
                                    const Eigen::Ref<const Eigen::VectorXd>& angles,
                                    const Eigen::Ref<const Eigen::VectorXd>& rates,
                                    const BodyMotion& motion,
                                    LinkageTerms* terms) const {
  const size_t count = linkage_.links.size();
  const Screw body = {motion.angular, motion.linear};
  terms->momentum.resize(linkage_.angle_count());
  terms->force.noalias() = -stiffness_ * angles;
  terms->force.noalias() -= damping_ * rates;
  std::vector<Screw> velocity(count);
  std::vector<Screw> momentum(count);
  std::vector<double> mass(count);
  std::vector<Vector3d> first(count);
  const auto velocity_of = [&](int link) {
    return link == kBodyLink ? body : velocity[static_cast<size_t>(link)];
  };
  for (size_t i = 0; i < count; ++i) {
    const LinkageLink& link = linkage_.links[i];
    const Screw hinge = HingeScrew(pose, i);
    const Screw parent = velocity_of(link.parent);
    const double rate = rates[static_cast<Index>(i)];
    velocity[i] = {parent.angular + rate * hinge.angular, parent.linear + rate * hinge.linear};
    const RigidMass own = MassOf(link, pose, i);
    momentum[i] = own.Momentum(velocity[i]);
    mass[i] = own.mass;
    first[i] = own.first;
  }
  Screw total;
  terms->first_moment.setZero();
  for (size_t i = count; i-- > 0;) {
    const int parent = linkage_.links[i].parent;
    const Screw hinge = HingeScrew(pose, i);
    const auto k = static_cast<Index>(i);
    terms->momentum[k] = Dot(hinge, momentum[i]);
    // Gravity turns about the hinge what it carries.
    terms->force[k] += Dot(momentum[i], Commutator(velocity_of(parent), hinge)) +
                       motion.gravity.dot(hinge.angular.cross(first[i] - mass[i] * pose.point[i]));
    Screw& carrier = parent == kBodyLink ? total : momentum[static_cast<size_t>(parent)];
    carrier.angular += momentum[i].angular;
    carrier.linear += momentum[i].linear;
    if (parent == kBodyLink) {
      terms->first_moment += first[i];
    } else {
      mass[static_cast<size_t>(parent)] += mass[i];
      first[static_cast<size_t>(parent)] += first[i];
    }
  }
  terms->angular_momentum = total.angular;
  terms->linear_momentum = total.linear;
  AddPins(pose, rates, terms);
}

double LinkageDynamics::PinTravel(const LinkagePose& pose, size_t index) const {
  const LinkagePin& pin = linkage_.pins[index];
  return pin.direction.dot(pose.Place(pin.link, pin.point) - pin.point);
}

void LinkageDynamics::PinTravelJacobian(const LinkagePose& pose,
                                        size_t index,
                                        Eigen::RowVectorXd* jacobian) const {
  const LinkagePin& pin = linkage_.pins[index];
  const Vector3d place = pose.Place(pin.link, pin.point);
  jacobian->setZero(linkage_.angle_count());
  for (int i = pin.link; i != kBodyLink; i = linkage_.links[static_cast<size_t>(i)].parent) {
    const auto k = static_cast<size_t>(i);
    (*jacobian)[i] = pin.direction.dot(pose.axis[k].cross(place - pose.point[k]));
  }
}

// A pin's mass moves along its direction alone, relative to the body:
//   T = m/2 d'^2,  dT/drate_j = m d' g_j,  dT/dangle_j = m d' dg_j/dt  with g = dd/dangle.
void LinkageDynamics::AddPins(const LinkagePose& pose,
                              const Eigen::Ref<const Eigen::VectorXd>& rates,
                              LinkageTerms* terms) const {
  for (size_t index = 0; index < linkage_.pins.size(); ++index) {
    const LinkagePin& pin = linkage_.pins[index];
    if (!pin.is_present) {
      continue;
    }
    const Vector3d place = pose.Place(pin.link, pin.point);
    // From the pin to the body: velocities relative to the body, of the pin and of each hinge, are
    // sums over the hinges nearer to the body.
    std::vector<int> chain;
    for (int i = pin.link; i != kBodyLink; i = linkage_.links[static_cast<size_t>(i)].parent) {
      chain.push_back(i);
    }
    Vector3d pin_velocity = Vector3d::Zero();
    for (const int i : chain) {
      const auto k = static_cast<size_t>(i);
      pin_velocity += rates[i] * pose.axis[k].cross(place - pose.point[k]);
    }
    const double speed = pin.direction.dot(pin_velocity);
    const double pull = -pin.stiffness * PinTravel(pose, index);
    Screw carried;  // velocity of the hinge's carrier
    for (size_t at = chain.size(); at-- > 0;) {
      const auto k = static_cast<size_t>(chain[at]);
      const Vector3d arm = place - pose.point[k];
      const Vector3d hinge_velocity = carried.linear + carried.angular.cross(pose.point[k]);
      const Vector3d axis_rate = carried.angular.cross(pose.axis[k]);
      const double slope = pin.direction.dot(pose.axis[k].cross(arm));
      const double slope_rate = pin.direction.dot(
          axis_rate.cross(arm) + pose.axis[k].cross(pin_velocity - hinge_velocity));
      const Index j = chain[at];
      terms->momentum[j] += pin.mass * speed * slope;
      terms->force[j] += pin.mass * speed * slope_rate + pull * slope;
      const Screw hinge = HingeScrew(pose, k);
      carried.angular += rates[j] * hinge.angular;
      carried.linear += rates[j] * hinge.linear;
    }
  }
}

void LinkageDynamics::EvaluateInertia(const LinkagePose& pose, LinkageInertia* inertia) const {
  const size_t count = linkage_.links.size();
  const Index n = linkage_.angle_count();
  std::vector<RigidMass> carried(count);
  for (size_t i = 0; i < count; ++i) {
    carried[i] = MassOf(linkage_.links[i], pose, i);
  }
  RigidMass total;
  inertia->mass.setZero(n, n);
  inertia->coupling.resize(6, n);
  for (size_t i = count; i-- > 0;) {
    const Screw momentum = carried[i].Momentum(HingeScrew(pose, i));
    const auto k = static_cast<Index>(i);
    inertia->coupling.col(k) << momentum.angular, momentum.linear;
    for (int j = static_cast<int>(i); j != kBodyLink;
         j = linkage_.links[static_cast<size_t>(j)].parent) {
      const double entry = Dot(HingeScrew(pose, static_cast<size_t>(j)), momentum);
      inertia->mass(k, j) = entry;
      inertia->mass(j, k) = entry;
    }
    const int parent = linkage_.links[i].parent;
    (parent == kBodyLink ? total : carried[static_cast<size_t>(parent)]).Add(carried[i]);
  }
  inertia->inertia = total.inertia;
  inertia->first_moment = total.first;
  inertia->stiffness = stiffness_;
  Eigen::RowVectorXd slope;
  for (size_t i = 0; i < linkage_.pins.size(); ++i) {
    if (linkage_.pins[i].is_present) {
      PinTravelJacobian(pose, i, &slope);
      inertia->mass.noalias() += linkage_.pins[i].mass * slope.transpose() * slope;
      inertia->stiffness.noalias() += linkage_.pins[i].stiffness * slope.transpose() * slope;
    }
  }
}

double LinkageDynamics::SpringEnergy(const LinkagePose& pose,
                                     const Eigen::Ref<const Eigen::VectorXd>& angles) const {
  double energy = 0.5 * angles.dot(stiffness_ * angles);
  for (size_t i = 0; i < linkage_.pins.size(); ++i) {
    if (linkage_.pins[i].is_present) {
      const double travel = PinTravel(pose, i);
      energy += 0.5 * linkage_.pins[i].stiffness * travel * travel;
    }
  }
  return energy;
}

}  // namespace gaitshelf::solver
