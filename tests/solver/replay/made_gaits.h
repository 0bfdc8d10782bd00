// Gaits made by hand for tests of the replay: a robot that coasts without friction, and a hop that
// the replay's own step makes, so that its knots obey every law.
#ifndef GAITSHELF_TESTS_SOLVER_REPLAY_MADE_GAITS_H_
#define GAITSHELF_TESTS_SOLVER_REPLAY_MADE_GAITS_H_

#include <string>

#include <Eigen/Core>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "solver/leg/robot_model.h"
#include "solver/replay/contact_step.h"
#include "solver/robot/digest.h"
#include "tests/support/robots.h"

namespace gaitshelf::test {

// Voltage of each drive that holds the quadruped's legs at 0 on level ground: a lift bears a
// quarter of the weight less its foot.
inline double HoldVoltage(bool is_lift) {
  const double load_n = (1.884e-3 / 4.0) * 9.81;
  return is_lift ? 100.0 + 10.4 * load_n / 1.8e-3 : 100.0;
}

inline v1::Gait MakeEmptyGait(const v1::Robot& robot, const v1::Surface& surface) {
  v1::Gait gait;
  gait.set_robot_digest(solver::RobotDigest(robot));
  gait.set_surface_digest(solver::SurfaceDigest(surface));
  for (const v1::Leg& leg : robot.legs()) {
    gait.add_leg_names(leg.name());
    gait.add_foot_names(leg.name());
  }
  return gait;
}

inline void AddKnot(const Eigen::VectorXd& q,
                    const Eigen::VectorXd& voltage_v,
                    const Eigen::VectorXd& forces_n,
                    v1::Gait* gait) {
  for (Eigen::Index i = 0; i < q.size(); ++i) {
    auto* field = i < 3   ? gait->mutable_body_position_m()
                  : i < 6 ? gait->mutable_body_attitude_rad()
                          : gait->mutable_leg_position_m();
    field->Add(q[i]);
  }
  gait->mutable_voltage_v()->Add(voltage_v.begin(), voltage_v.end());
  gait->mutable_foot_force_n()->Add(forces_n.begin(), forces_n.end());
  gait->set_knot_count(gait->knot_count() + 1);
}

// Advances 9 mm a cycle at 12 Hz by coasting on a surface without friction: every law holds, and
// every foot drags.
inline v1::Gait MakeCoasting(const v1::Robot& robot, const v1::Surface& surface) {
  constexpr int kKnots = 40;
  v1::Gait gait = MakeEmptyGait(robot, surface);
  gait.set_is_periodic(true);
  gait.set_stride_frequency_hz(12.0);
  gait.set_knot_period_s(1.0 / 12.0 / kKnots);
  gait.set_advance_m(0.009);
  gait.mutable_task()->mutable_advance()->set_advance_m(0.009);
  Eigen::VectorXd q = Eigen::VectorXd::Zero(14);
  Eigen::VectorXd voltage_v(8), forces_n = Eigen::VectorXd::Zero(12);
  for (Eigen::Index i = 0; i < 8; ++i) {
    voltage_v[i] = HoldVoltage(i % 2 == 0);
  }
  for (Eigen::Index i = 0; i < 4; ++i) {
    forces_n[3 * i + 2] = 1.9e-3 * 9.81 / 4.0;
  }
  for (int k = 0; k < kKnots; ++k) {
    q[0] = 0.009 * k / kKnots;
    q[2] = 0.011;
    AddKnot(q, voltage_v, forces_n, &gait);
  }
  return gait;
}

// Stands, pushes off from 10 to 30 ms, flies low and lands, under a fixed course of voltages.
inline v1::Gait MakeHop(const v1::Robot& robot, const v1::Surface& surface) {
  constexpr int kKnots = 160;
  constexpr double kPeriodS = 1e-3;
  constexpr double kPushV = 20.0;
  v1::Gait gait = MakeEmptyGait(robot, surface);
  gait.set_knot_period_s(kPeriodS);
  gait.mutable_task()->mutable_hop()->set_rise_m(0.002);
  const solver::RobotModel model = *solver::RobotModel::Create(robot, surface, solver::Scale());
  solver::ContactStepper stepper(&model);
  const Eigen::VectorXd rest = model.ReferencePosture();
  solver::ReplayState state = solver::StartAfterInterval(model, rest, rest, kPeriodS);
  solver::StepReport report;
  Eigen::VectorXd voltage_v(8), u(8);
  for (int k = 0; k < kKnots; ++k) {
    for (Eigen::Index i = 0; i < 8; ++i) {
      const bool is_lift = i % 2 == 0;
      const double extra_v = is_lift && k >= 10 && k < 30 ? kPushV : 0.0;
      voltage_v[i] = HoldVoltage(is_lift) + extra_v;
      u[i] = (voltage_v[i] - 100.0) / 100.0;
    }
    const Eigen::VectorXd q = state.knot.position;
    if (!stepper.Step(u, kPeriodS, &state, &report).ok() || report.substep_count != 1) {
      return v1::Gait();
    }
    AddKnot(q, voltage_v, report.foot_forces, &gait);
  }
  gait.set_advance_m(state.knot.position[0]);
  return gait;
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SOLVER_REPLAY_MADE_GAITS_H_
