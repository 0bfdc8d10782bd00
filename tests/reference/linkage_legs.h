// Writes linkage legs for the reference tests: links with their masses, flexures about one axis.
#ifndef GAITSHELF_TESTS_REFERENCE_LINKAGE_LEGS_H_
#define GAITSHELF_TESTS_REFERENCE_LINKAGE_LEGS_H_

#include <string>

#include <Eigen/Core>

#include "gaitshelf/v1/robot.pb.h"

#include "tests/support/robots.h"

namespace gaitshelf::test {

inline void SetVector(google::protobuf::RepeatedField<double>* field, const Eigen::Vector3d& v) {
  SetVector(field, v[0], v[1], v[2]);
}

// A link's mass, centre and inertia about it (the same about every axis).
struct LinkMass {
  double mass_kg = 1e-9;
  Eigen::Vector3d center_m = Eigen::Vector3d::Zero();
  double inertia_kg_m2 = 1e-12;
};

// Adds a link that hangs on a flexure at a point.
inline v1::Flexure* AddLink(v1::LinkageLeg* leg,
                            const std::string& name,
                            const std::string& parent,
                            const Eigen::Vector3d& point_m,
                            const Eigen::Vector3d& axis,
                            const LinkMass& mass) {
  v1::Link* link = leg->add_links();
  link->set_name(name);
  link->set_mass_kg(mass.mass_kg);
  SetVector(link->mutable_center_of_mass_m(), mass.center_m);
  for (int i = 0; i < 6; ++i) {
    link->add_inertia_kg_m2(i < 3 ? mass.inertia_kg_m2 : 0.0);
  }
  v1::Flexure* flexure = leg->add_flexures();
  flexure->set_name(name + "-hinge");
  flexure->set_parent(parent);
  flexure->set_child(name);
  SetVector(flexure->mutable_point_m(), point_m);
  SetVector(flexure->mutable_axis_ratio(), axis);
  flexure->mutable_bending()->set_stiffness_n_m_per_rad(0.0);
  return flexure;
}

// Says which flexure is lift or swing, and its range.
inline void SetCoordinate(v1::LinkageCoordinate* coordinate,
                          const std::string& link,
                          double min_rad,
                          double max_rad) {
  coordinate->set_flexure(link + "-hinge");
  coordinate->set_min_rad(min_rad);
  coordinate->set_max_rad(max_rad);
}

// A body in a bench clamp high above the surface, with one linkage leg still to be filled.
inline v1::Robot MakeBench(v1::LinkageLeg** leg) {
  v1::Robot robot = MakeBody(1.0, 1e-3);
  robot.mutable_body()->set_support(v1::BODY_SUPPORT_CLAMPED);
  robot.mutable_body()->set_clamp_height_m(1.0);
  SetLegController(&robot);
  v1::Leg* made = robot.add_legs();
  made->set_name("leg");
  *leg = made->mutable_linkage();
  return robot;
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_REFERENCE_LINKAGE_LEGS_H_
