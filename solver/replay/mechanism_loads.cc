#include "solver/replay/mechanism_loads.h"

#include <algorithm>
#include <cmath>

namespace gaitshelf::solver {

using Eigen::Index;
using Eigen::VectorXd;

void MechanismLoads::RecordFlexure(const WholeLeg& leg,
                                   const FlexureLabel& flexure,
                                   double angle_rad) {
  const double size_rad = std::abs(angle_rad);
  const double strain = flexure.strain_per_rad * size_rad;
  const auto note = [&](v1::FlexureLoad* load) {
    load->set_leg(leg.name);
    load->set_flexure(flexure.name);
    load->set_angle_rad(size_rad);
    load->set_strain_ratio(strain);
  };
  if (size_rad > report_.most_bent().angle_rad()) {
    note(report_.mutable_most_bent());
  }
  if (strain > report_.most_strained().strain_ratio()) {
    note(report_.mutable_most_strained());
  }
}

void MechanismLoads::Record(const VectorXd& q,
                            const VectorXd& loop_forces,
                            const VectorXd& residual) {
  Index loop = 0;
  for (const WholeLeg& leg : robot_.legs()) {
    const auto angles = q.segment(leg.first, leg.dynamics.linkage().angle_count());
    for (Index i = 0; i < angles.size(); ++i) {
      RecordFlexure(leg, leg.description.link_flexures[static_cast<size_t>(i)], angles[i]);
    }
    for (const FlexureLabel& closing : leg.description.closing_flexures) {
      const Index own = &closing - leg.description.closing_flexures.data();
      RecordFlexure(leg, closing, leg.dynamics.closing_signs().row(own).dot(angles));
      const double force_n = loop_forces.segment<2>(2 * loop).norm() * scale_.force_n();
      if (force_n > report_.most_loaded().force_n()) {
        v1::LoopLoad* load = report_.mutable_most_loaded();
        load->set_leg(leg.name);
        load->set_flexure(closing.name);
        load->set_force_n(force_n);
      }
      ++loop;
    }
  }
  report_.set_loop_residual_m(
      std::max(report_.loop_residual_m(), residual.lpNorm<Eigen::Infinity>() * scale_.length_m));
}

v1::MechanismReport MechanismLoads::Report() const {
  v1::MechanismReport report = report_;
  report.set_coordinate_count(static_cast<int>(robot_.coordinate_count()));
  report.set_loop_equation_count(static_cast<int>(robot_.loop_equation_count()));
  return report;
}

}  // namespace gaitshelf::solver
