// Descriptions that pass their checks with every field set, as a start for tests that break one.
#ifndef GAITSHELF_TESTS_SOLVER_ROBOT_SAMPLES_H_
#define GAITSHELF_TESTS_SOLVER_ROBOT_SAMPLES_H_

#include <string>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"
#include "gaitshelf/v1/task.pb.h"

namespace gaitshelf::test {

inline void FillBimorph(v1::Bimorph* bimorph) {
  bimorph->set_gain_n_per_v(1.8e-3);
  bimorph->set_stiffness_n_per_m(90.0);
  bimorph->set_moving_mass_kg(20e-6);
  bimorph->set_min_v(10.0);
  bimorph->set_max_v(200.0);
  bimorph->set_bias_v(100.0);
  bimorph->set_slew_v_per_s(2e5);
  bimorph->set_capacitance_f(4.7e-9);
}

inline void FillCoordinate(double x, double z, v1::LegCoordinate* coordinate) {
  coordinate->add_direction_ratio(x);
  coordinate->add_direction_ratio(0.0);
  coordinate->add_direction_ratio(z);
  coordinate->set_min_m(-0.002);
  coordinate->set_max_m(0.003);
  coordinate->set_stiffness_n_per_m(1.36);
  coordinate->set_damping_n_s_per_m(1.09e-4);
  coordinate->set_moving_mass_kg(1.9e-6);
  coordinate->set_stop_stiffness_n_per_m(20.0);
  FillBimorph(coordinate->mutable_bimorph());
  coordinate->set_transmission_ratio(-10.4);
}

inline void AddLeg(const std::string& name, double y_m, v1::Robot* robot) {
  v1::Leg* leg = robot->add_legs();
  leg->set_name(name);
  for (const double x_m : {0.015, y_m, -0.011}) {
    leg->mutable_lumped()->add_foot_m(x_m);
  }
  leg->mutable_lumped()->set_foot_mass_kg(4e-6);
  FillCoordinate(0.0, 1.0, leg->mutable_lumped()->mutable_lift());
  FillCoordinate(1.0, 0.0, leg->mutable_lumped()->mutable_swing());
}

// Two legs and one body foot; no number is 0 except in directions and the free body's clamp height.
inline v1::Robot SampleRobot() {
  v1::Robot robot;
  robot.set_name("sample");
  robot.set_title("Two legs for tests");
  v1::Body* body = robot.mutable_body();
  body->set_mass_kg(1.9e-3);
  for (const double inertia_kg_m2 : {6e-8, 2.3e-7, 2.6e-7}) {
    body->add_inertia_kg_m2(inertia_kg_m2);
  }
  for (const double center_m : {0.001, 0.0005, -0.0002}) {
    body->add_center_of_mass_m(center_m);
  }
  for (const double size_m : {0.038, 0.018, 0.009}) {
    body->add_size_m(size_m);
  }
  body->set_support(v1::BODY_SUPPORT_FREE);
  AddLeg("left", 0.0175, &robot);
  AddLeg("right", -0.0175, &robot);
  v1::BodyFoot* foot = robot.add_body_feet();
  foot->set_name("skid");
  for (const double point_m : {-0.015, 0.001, -0.011}) {
    foot->add_point_m(point_m);
  }
  v1::LegController* controller = robot.mutable_leg_controller();
  controller->set_lift_gain_v_per_m(1.54e5);
  controller->set_lift_rate_gain_v_s_per_m(148.0);
  controller->set_swing_gain_v_per_m(1.05e5);
  controller->set_swing_rate_gain_v_s_per_m(101.0);
  controller->set_hop_gain_ratio(0.3);
  robot.mutable_uncertainty()->set_mass_ratio(0.02);
  robot.mutable_uncertainty()->set_stiffness_ratio(0.04);
  robot.mutable_uncertainty()->set_gain_ratio(0.06);
  return robot;
}

// Takes the numbers out of a bimorph and gives it layers instead.
inline void FillLayers(v1::Bimorph* bimorph) {
  bimorph->clear_gain_n_per_v();
  bimorph->clear_stiffness_n_per_m();
  bimorph->clear_capacitance_f();
  v1::BimorphLayers* layers = bimorph->mutable_layers();
  layers->set_length_m(0.009);
  layers->set_width_m(0.0018);
  layers->set_piezo_thickness_m(1e-4);
  layers->set_shim_thickness_m(4e-5);
  layers->set_shim_modulus_pa(1.1e11);
  layers->set_piezo_modulus_pa(6e10);
  layers->set_charge_constant_m_per_v(2.7e-10);
  layers->set_permittivity_ratio(3000.0);
  layers->set_wiring(v1::BIMORPH_WIRING_PARALLEL);
}

// The sample with one bimorph of layers.
inline v1::Robot SampleLayeredRobot() {
  v1::Robot robot = SampleRobot();
  FillLayers(robot.mutable_legs(0)->mutable_lumped()->mutable_lift()->mutable_bimorph());
  return robot;
}

// One mass on one point: the least that a free body may be.
inline v1::Robot PointMass() {
  v1::Robot robot;
  robot.set_name("point");
  robot.mutable_body()->set_mass_kg(1e-3);
  for (int i = 0; i < 3; ++i) {
    robot.mutable_body()->add_inertia_kg_m2(1e-9);
  }
  v1::BodyFoot* foot = robot.add_body_feet();
  foot->set_name("tip");
  for (int i = 0; i < 3; ++i) {
    foot->add_point_m(0.0);
  }
  return robot;
}

inline v1::Surface SampleSurface() {
  v1::Surface surface;
  surface.set_name("sample");
  surface.set_title("A surface for tests");
  surface.set_friction_coefficient(0.45);
  surface.set_friction_uncertainty_coefficient(0.05);
  surface.set_slope_rad(0.1);
  surface.set_friction_method(v1::FRICTION_METHOD_TILT);
  surface.set_measured_on("2026-02-28");
  return surface;
}

inline v1::GaitOrder SampleAdvanceOrder() {
  v1::GaitOrder order;
  order.set_robot("weevil");
  order.set_surface("duct-steel");
  order.set_stride_frequency_hz(12.0);
  order.mutable_task()->mutable_advance()->set_advance_m(0.009);
  order.set_objective(v1::OBJECTIVE_LEAST_EFFORT);
  order.mutable_options()->set_seed_pattern(v1::SEED_PATTERN_TROT);
  order.mutable_options()->set_rng(7);
  order.mutable_options()->set_knot_count(64);
  return order;
}

inline v1::GaitOrder SampleHopOrder() {
  v1::GaitOrder order = SampleAdvanceOrder();
  order.clear_stride_frequency_hz();
  order.mutable_task()->mutable_hop()->set_rise_m(0.009);
  return order;
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SOLVER_ROBOT_SAMPLES_H_
