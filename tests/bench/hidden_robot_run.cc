#include "tests/bench/hidden_robot_run.h"

#include <random>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "solver/base/status_macros.h"
#include "solver/calibrate/calibrate.h"
#include "solver/plan/plan_gait.h"
#include "solver/replay/audit_gait.h"
#include "solver/replay/audited_plan.h"
#include "solver/replay/record.h"
#include "solver/robot/draw.h"
#include "tests/support/bench_trial.h"
#include "tests/support/demo.h"
#include "tests/support/recorded_trial.h"

namespace gaitshelf::bench {
namespace {

absl::StatusOr<v1::Gait> PlanGood(const v1::Robot& robot,
                                  const v1::Surface& surface,
                                  const v1::GaitOrder& order) {
  const solver::AuditedPlanSteps steps = {
      .plan = [](const solver::PlanRequest& request,
                 int /*variant*/) { return solver::PlanGait(request, {}); },
      .audit = [](const solver::AuditRequest& request) { return solver::AuditGait(request); }};
  GAITSHELF_ASSIGN_OR_RETURN(
      v1::Gait gait,
      solver::PlanAudited({.robot = robot, .surface = surface, .order = order}, steps));
  if (gait.audit().verdict() != v1::VERDICT_GOOD) {
    return absl::FailedPreconditionError(absl::StrCat(
        "no good gait: ", gait.report().reason(), " ", absl::StrJoin(gait.audit().reasons(), " ")));
  }
  return gait;
}

// Stride on the hidden robot, m; 0 when it falls.
double HiddenStride(const test::HiddenRobot& hidden, const v1::Gait& gait) {
  const auto recording = solver::RecordReplay(
      {.robot = hidden.robot, .surface = hidden.surface, .gait = gait, .cycle_count = 6});
  return recording.ok() && recording->simulated.trouble.empty()
             ? recording->simulated.report.advance_m()
             : 0.0;
}

absl::StatusOr<v1::Calibration> CalibrateByBench(const Described& described,
                                                 const test::HiddenRobot& hidden,
                                                 unsigned rng) {
  const test::ReadTrial ring = test::MakeLegTrial(hidden.robot, test::RingDown(rng));
  const test::ReadTrial chirp = test::MakeLegTrial(hidden.robot, test::Chirp(rng + 1));
  const test::ReadTrial tilt =
      test::MakeTiltTrial({.friction = hidden.surface.friction_coefficient(), .rng = rng + 2});
  solver::CalibrationRequest request;
  request.robot = described.robot;
  request.surface = described.surface;
  request.trials = {ring.table.get(), chirp.table.get(), tilt.table.get()};
  return solver::Calibrate(request);
}

absl::StatusOr<v1::Calibration> CalibrateByGait(const Described& described,
                                                const test::HiddenRobot& hidden,
                                                unsigned rng,
                                                int thread_count) {
  GAITSHELF_ASSIGN_OR_RETURN(const solver::Recording recording,
                             solver::RecordReplay({.robot = hidden.robot,
                                                   .surface = hidden.surface,
                                                   .gait = described.gait,
                                                   .cycle_count = 30}));
  const test::ReadTrial trial = test::ReadRecordedTrial(
      test::MakeRecordedTrial(recording,
                              described.gait,
                              {.weight_n = 9.81 * described.robot.body().mass_kg(),
                               .tracking_delay_s = 0.04,
                               .leg_noise_m = 5e-6,
                               .body_noise_m = 1e-4,
                               .body_noise_rad = 2e-3,
                               .rng = rng + 3}),
      described.robot);
  solver::CalibrationRequest request;
  request.robot = described.robot;
  request.surface = described.surface;
  request.trials = {trial.table.get()};
  request.gaits = {{described.gait.name(), described.gait}};
  request.thread_count = thread_count;
  return solver::Calibrate(request);
}

}  // namespace

absl::StatusOr<Described> Describe(const std::string& surface, double advance_m) {
  Described described;
  described.robot = test::ReadDemoRobot("weevil-lumped");
  described.surface = test::ReadDemoSurface(surface);
  // What is even within a fifth has this deviation; the description says so.
  v1::RobotUncertainty uncertainty = solver::StatedUncertainty(described.robot);
  uncertainty.set_mass_ratio(0.02);
  uncertainty.set_stiffness_ratio(0.12);
  uncertainty.set_gain_ratio(0.12);
  *described.robot.mutable_uncertainty() = uncertainty;
  described.surface.set_friction_uncertainty_coefficient(0.12 *
                                                         described.surface.friction_coefficient());
  described.order.set_robot(described.robot.name());
  described.order.set_surface(described.surface.name());
  described.order.set_stride_frequency_hz(12.0);
  v1::Advance& advance = *described.order.mutable_task()->mutable_advance();
  if (advance_m > 0.0) {
    advance.set_advance_m(advance_m);
  } else {
    advance.set_is_maximal(true);
  }
  GAITSHELF_ASSIGN_OR_RETURN(described.gait,
                             PlanGood(described.robot, described.surface, described.order));
  return described;
}

absl::StatusOr<HiddenRun> RunHidden(const Described& described,
                                    CalibrateBy by,
                                    unsigned rng,
                                    int thread_count) {
  std::mt19937 generator(rng);
  HiddenRun run{.hidden = test::Hide(described.robot, described.surface, &generator),
                .calibration = {},
                .strides = {}};
  GAITSHELF_ASSIGN_OR_RETURN(run.calibration,
                             by == CalibrateBy::kGait
                                 ? CalibrateByGait(described, run.hidden, rng, thread_count)
                                 : CalibrateByBench(described, run.hidden, rng));
  GAITSHELF_ASSIGN_OR_RETURN(
      const v1::Gait replanned,
      PlanGood(run.calibration.has_calibrated_robot() ? run.calibration.calibrated_robot()
                                                      : described.robot,
               run.calibration.has_calibrated_surface() ? run.calibration.calibrated_surface()
                                                        : described.surface,
               described.order));
  run.strides = {.first_m = HiddenStride(run.hidden, described.gait),
                 .new_m = HiddenStride(run.hidden, replanned)};
  return run;
}

}  // namespace gaitshelf::bench
