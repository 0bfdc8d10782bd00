// Units of a scaled model. A model built with a scale takes and gives every quantity in these
// units.
#ifndef GAITSHELF_SOLVER_LEG_SCALE_H_
#define GAITSHELF_SOLVER_LEG_SCALE_H_

namespace gaitshelf::solver {

struct Scale {
  double length_m = 1.0;
  double mass_kg = 1.0;
  double time_s = 1.0;

  double force_n() const { return mass_kg * length_m / (time_s * time_s); }
  double speed_m_per_s() const { return length_m / time_s; }
  double stiffness_n_per_m() const { return mass_kg / (time_s * time_s); }
  double damping_n_s_per_m() const { return mass_kg / time_s; }
  double inertia_kg_m2() const { return mass_kg * length_m * length_m; }
  double acceleration_m_per_s2() const { return length_m / (time_s * time_s); }
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_LEG_SCALE_H_
