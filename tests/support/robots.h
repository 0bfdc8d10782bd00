// Robots that tests build in code: a quadruped of the demonstration's size, a hexapod, a block, a
// point mass and a leg on a bench. The figures are invented.
#ifndef GAITSHELF_TESTS_SUPPORT_ROBOTS_H_
#define GAITSHELF_TESTS_SUPPORT_ROBOTS_H_

#include <cmath>
#include <string>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

namespace gaitshelf::test {

inline void SetVector(google::protobuf::RepeatedField<double>* field,
                      double x,
                      double y,
                      double z) {
  field->Clear();
  field->Add(x);
  field->Add(y);
  field->Add(z);
}

inline v1::Surface MakeSurface(double friction, double slope_rad = 0.0) {
  v1::Surface surface;
  surface.set_name("bench");
  surface.set_friction_coefficient(friction);
  surface.set_slope_rad(slope_rad);
  return surface;
}

// A rigid body without legs; feet are added by AddBodyFoot.
inline v1::Robot MakeBody(double mass_kg, double inertia_kg_m2) {
  v1::Robot robot;
  robot.set_name("body");
  robot.mutable_body()->set_mass_kg(mass_kg);
  SetVector(
      robot.mutable_body()->mutable_inertia_kg_m2(), inertia_kg_m2, inertia_kg_m2, inertia_kg_m2);
  return robot;
}

inline void AddBodyFoot(v1::Robot* robot, double x, double y, double z) {
  v1::BodyFoot* foot = robot->add_body_feet();
  foot->set_name("foot-" + std::to_string(robot->body_feet_size()));
  SetVector(foot->mutable_point_m(), x, y, z);
}

inline v1::LegCoordinate MakeLift() {
  v1::LegCoordinate lift;
  SetVector(lift.mutable_direction_ratio(), 0.0, 0.0, 1.0);
  lift.set_min_m(-0.0020);
  lift.set_max_m(0.0020);
  lift.set_stiffness_n_per_m(1.36);
  lift.set_damping_n_s_per_m(1.09e-4);
  lift.set_moving_mass_kg(1.92e-6);
  lift.set_stop_stiffness_n_per_m(20.0);
  lift.set_transmission_ratio(-10.4);
  v1::Bimorph* bimorph = lift.mutable_bimorph();
  bimorph->set_gain_n_per_v(1.8e-3);
  bimorph->set_stiffness_n_per_m(90.0);
  bimorph->set_moving_mass_kg(20e-6);
  bimorph->set_max_v(200.0);
  bimorph->set_bias_v(100.0);
  bimorph->set_slew_v_per_s(2e5);
  return lift;
}

inline v1::LegCoordinate MakeSwing() {
  v1::LegCoordinate swing = MakeLift();
  SetVector(swing.mutable_direction_ratio(), 1.0, 0.0, 0.0);
  swing.set_min_m(-0.0045);
  swing.set_max_m(0.0045);
  swing.set_stiffness_n_per_m(1.063);
  swing.set_damping_n_s_per_m(8.5e-5);
  swing.set_moving_mass_kg(2.85e-6);
  swing.set_transmission_ratio(-12.3);
  swing.mutable_bimorph()->set_gain_n_per_v(1.2e-3);
  swing.mutable_bimorph()->set_stiffness_n_per_m(200.0);
  return swing;
}

inline v1::Leg* AddLeg(v1::Robot* robot, double x, double y, double z) {
  v1::Leg* leg = robot->add_legs();
  leg->set_name("leg-" + std::to_string(robot->legs_size()));
  v1::LumpedLeg* lumped = leg->mutable_lumped();
  SetVector(lumped->mutable_foot_m(), x, y, z);
  lumped->set_foot_mass_kg(4e-6);
  *lumped->mutable_lift() = MakeLift();
  *lumped->mutable_swing() = MakeSwing();
  return leg;
}

inline void SetLegController(v1::Robot* robot) {
  v1::LegController* controller = robot->mutable_leg_controller();
  controller->set_lift_gain_v_per_m(5e4);
  controller->set_lift_rate_gain_v_s_per_m(50.0);
  controller->set_swing_gain_v_per_m(5e4);
  controller->set_swing_rate_gain_v_s_per_m(50.0);
  controller->set_hop_gain_ratio(0.3);
}

// Four legs, 1.9 g, feet 11 mm below the body.
inline v1::Robot MakeQuadruped() {
  v1::Robot robot;
  robot.set_name("quadruped");
  robot.mutable_body()->set_mass_kg(1.884e-3);
  SetVector(robot.mutable_body()->mutable_inertia_kg_m2(), 6.11955e-8, 2.304275e-7, 2.671448e-7);
  for (const double x : {0.015, -0.015}) {
    for (const double y : {0.0175, -0.0175}) {
      AddLeg(&robot, x, y, -0.011);
    }
  }
  SetLegController(&robot);
  return robot;
}

// Six legs, a skid under the body, centre of mass off the origin and legs askew.
inline v1::Robot MakeHexapod() {
  v1::Robot robot;
  robot.set_name("hexapod");
  robot.mutable_body()->set_mass_kg(3.37e-3);
  SetVector(robot.mutable_body()->mutable_inertia_kg_m2(), 1.2e-7, 5.1e-7, 6.0e-7);
  SetVector(robot.mutable_body()->mutable_center_of_mass_m(), 0.0008, -0.0003, 0.0005);
  for (const double x : {0.02, 0.0, -0.02}) {
    for (const double y : {0.018, -0.018}) {
      v1::LumpedLeg* leg = AddLeg(&robot, x, y, -0.011)->mutable_lumped();
      SetVector(leg->mutable_lift()->mutable_direction_ratio(), 0.0, y > 0.0 ? 0.28 : -0.28, 0.96);
      SetVector(leg->mutable_swing()->mutable_direction_ratio(), 0.96, 0.0, 0.28);
    }
  }
  AddBodyFoot(&robot, 0.0, 0.0, -0.004);
  SetLegController(&robot);
  return robot;
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_ROBOTS_H_
