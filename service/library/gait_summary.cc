#include "service/library/gait_summary.h"

namespace gaitshelf::service {

v1::GaitSummary SummarizeGait(const v1::Gait& gait) {
  v1::GaitSummary summary;
  summary.set_name(gait.name());
  summary.set_robot(gait.robot());
  summary.set_surface(gait.surface());
  summary.set_stride_frequency_hz(gait.stride_frequency_hz());
  *summary.mutable_task() = gait.task();
  summary.set_verdict(gait.audit().verdict());
  summary.set_advance_m(gait.advance_m());
  summary.set_replayed_advance_m(gait.audit().replay().advance_m());
  if (gait.task().has_hop()) {
    summary.set_rise_m(gait.task().hop().rise_m());
    summary.set_replayed_rise_m(gait.audit().replay().rise_m());
  }
  summary.set_replayed_turn_rad(gait.turn_rad() == 0.0 ? 0.0 : gait.audit().replay().turn_rad());
  summary.set_replayed_sidestep_m(gait.audit().replay().sidestep_m());
  summary.set_peak_voltage_v(gait.audit().replay().peak_voltage_v());
  summary.set_worst_residual_ratio(gait.audit().residuals().worst_ratio());
  summary.set_solve_s(gait.report().solve_s());
  *summary.mutable_create_time() = gait.provenance().create_time();
  summary.set_spread_p05_m(gait.audit().spread().p05_m());
  summary.set_hand_tuned_advance_m(gait.audit().hand_tuned().advance_m());
  summary.set_coordinate_count(gait.coordinate_count());
  summary.set_loop_equation_count(gait.loop_equation_count());
  summary.set_compile_error_ratio(gait.compile_error_ratio());
  for (const v1::SurfaceVersion& version : gait.also_on()) {
    summary.add_also_on(version.surface());
  }
  summary.set_worst_advance_error_ratio(gait.audit().worst_advance_error_ratio());
  return summary;
}

}  // namespace gaitshelf::service
