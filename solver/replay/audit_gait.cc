#include "solver/replay/audit_gait.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <set>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_join.h"
#include "solver/base/status_macros.h"
#include "solver/leg/robot_model.h"
#include "solver/replay/gait_track.h"
#include "solver/replay/judge_replay.h"
#include "solver/replay/limits.h"
#include "solver/replay/model_plant.h"
#include "solver/replay/plan_residuals.h"
#include "solver/replay/replay_model.h"
#include "solver/replay/simulate.h"
#include "solver/replay/whole_plant.h"
#include "solver/robot/digest.h"

namespace gaitshelf::solver {
namespace {

using Limits = AuditLimits;

// The further surfaces are those that the gait names, each once.
void CheckFurtherSurfaces(const AuditRequest& request, std::string* faults) {
  std::multiset<std::string> given, wanted;
  for (const v1::Surface& surface : request.also_on) {
    given.insert(SurfaceDigest(surface));
  }
  for (const v1::SurfaceVersion& version : request.gait.also_on()) {
    wanted.insert(version.digest());
  }
  if (given != wanted) {
    absl::StrAppend(faults,
                    "also_on has the digests '",
                    absl::StrJoin(wanted, ", "),
                    "'; the further surfaces given have '",
                    absl::StrJoin(given, ", "),
                    "'\n");
  }
}

absl::Status CheckBelonging(const AuditRequest& request) {
  const v1::Gait& gait = request.gait;
  const std::string robot = RobotDigest(request.robot);
  const std::string surface = SurfaceDigest(request.surface);
  std::string faults;
  if (gait.robot_digest() != robot) {
    absl::StrAppend(&faults,
                    "robot_digest is '",
                    gait.robot_digest(),
                    "'; the robot given has the digest ",
                    robot,
                    "\n");
  }
  if (gait.surface_digest() != surface) {
    absl::StrAppend(&faults,
                    "surface_digest is '",
                    gait.surface_digest(),
                    "'; the surface given has the digest ",
                    surface,
                    "\n");
  }
  CheckFurtherSurfaces(request, &faults);
  if (gait.task().has_transition()) {
    const TransitionGaits gaits = request.joined.value_or(TransitionGaits());
    if (gaits.from.name() != gait.task().transition().from_gait() ||
        gaits.to.name() != gait.task().transition().to_gait()) {
      absl::StrAppend(&faults, "joined are other gaits than those that the transition names\n");
    }
  }
  if (request.robot.body().support() == v1::BODY_SUPPORT_CLAMPED) {
    absl::StrAppend(&faults, "robot.body.support is clamped; a gait needs a free body\n");
  }
  if (!faults.empty()) {
    faults.pop_back();
    return absl::InvalidArgumentError(faults);
  }
  return absl::OkStatus();
}

// What is played: the gait, and before and after a transition its two gaits.
struct Tracks {
  GaitTrack gait;
  std::optional<GaitTrack> from{};
  std::optional<GaitTrack> to{};
  TransitionGrid grid{};

  ReplayedGaits joined() const {
    return from.has_value() ? ReplayedGaits{&*from, &*to, grid.from_knot, grid.to_knot}
                            : ReplayedGaits();
  }
};

absl::StatusOr<Tracks> MakeTracks(const AuditRequest& request, const RobotModel& model) {
  GAITSHELF_ASSIGN_OR_RETURN(GaitTrack gait, GaitTrack::Create(request.gait, model));
  Tracks tracks = {.gait = std::move(gait)};
  if (request.gait.task().has_transition()) {
    GAITSHELF_ASSIGN_OR_RETURN(tracks.from, GaitTrack::Create(request.joined->from, model));
    GAITSHELF_ASSIGN_OR_RETURN(tracks.to, GaitTrack::Create(request.joined->to, model));
    tracks.grid = PlaceTransition(request.gait.task().transition(), *request.joined);
  }
  return tracks;
}

absl::StatusOr<Simulated> ReplayOn(ReplayPlant* plant,
                                   const AuditRequest& request,
                                   const Tracks& tracks) {
  SimulateRequest simulate;
  simulate.plant = plant;
  simulate.track = &tracks.gait;
  simulate.gaits = tracks.joined();
  simulate.leg_controller = request.robot.leg_controller();
  simulate.stop = request.stop;
  return SimulateGait(simulate);
}

// Displacement per cycle, for a hop the rise.
double Stride(const v1::ReplayReport& report) {
  return report.rise_m() > 0.0 ? report.rise_m() : report.advance_m();
}

// Replays on the whole mechanism where there is one, and compares with the compiled legs.
absl::StatusOr<Simulated> Replay(const AuditRequest& request,
                                 const RobotModel& model,
                                 const Tracks& tracks) {
  ModelPlant compiled_plant(&model);
  if (!WholeRobot::Fits(request.robot)) {
    return ReplayOn(&compiled_plant, request, tracks);
  }
  GAITSHELF_ASSIGN_OR_RETURN(const WholeRobot robot, WholeRobot::Create(request.robot, model));
  WholePlant plant(&robot, &model);
  GAITSHELF_ASSIGN_OR_RETURN(Simulated result, ReplayOn(&plant, request, tracks));
  GAITSHELF_ASSIGN_OR_RETURN(const Simulated compiled, ReplayOn(&compiled_plant, request, tracks));
  v1::MechanismReport* mechanism = result.report.mutable_mechanism();
  mechanism->set_compiled_cpu_s(compiled.report.cpu_s());
  // One that ends early counts as standing still.
  const bool has_ended = compiled.trouble.empty();
  mechanism->set_compiled_advance_m(has_ended ? Stride(compiled.report) : 0.0);
  mechanism->set_compiled_deviation_ratio((has_ended ? compiled.report.plan_ratio() : 0.0) -
                                          result.report.plan_ratio());
  return result;
}

void CompareWithAlone(const TransitionGaits& gaits, v1::ReplayReport* replay) {
  const double alone_m = gaits.to.audit().replay().advance_m();
  if (alone_m != 0.0) {
    v1::TransitionReport& report = *replay->mutable_transition();
    report.set_after_ratio(report.after_advance_m() / alone_m);
  }
}

// Residuals and replay on one surface, with the reasons that the replay gives against the gait. The
// verdict is left open.
absl::StatusOr<v1::Audit> AuditOn(const v1::Surface& surface, const AuditRequest& request) {
  GAITSHELF_ASSIGN_OR_RETURN(const RobotModel model,
                             CreateReplayModel(request.robot, surface, request.leg_tables));
  GAITSHELF_ASSIGN_OR_RETURN(const Tracks tracks, MakeTracks(request, model));
  v1::Audit audit;
  *audit.mutable_residuals() = ComputePlanResiduals(model, tracks.gait);
  if (SurfaceDigest(surface) == request.gait.surface_digest()) {
    JudgeResiduals(audit.residuals(), &audit);
  }
  GAITSHELF_ASSIGN_OR_RETURN(const Simulated simulated, Replay(request, model, tracks));
  *audit.mutable_replay() = simulated.report;
  if (!simulated.trouble.empty()) {
    audit.add_reasons(absl::StrCat("In the replay ", simulated.trouble, "."));
    return audit;
  }
  if (audit.replay().has_transition()) {
    CompareWithAlone(*request.joined, audit.mutable_replay());
    JudgeTransition(
        model, request.gait.task().transition(), *request.joined, audit.replay(), &audit);
  } else {
    JudgeReplay(model, request.gait, audit.replay(), &audit);
  }
  const std::string fault = CompiledLegsFault(audit.replay());
  if (!fault.empty()) {
    audit.add_reasons(fault);
  }
  return audit;
}

v1::SurfaceAudit Entry(const v1::Surface& surface, const v1::Audit& audit) {
  v1::SurfaceAudit entry;
  entry.set_surface(surface.name());
  entry.set_surface_digest(SurfaceDigest(surface));
  entry.set_verdict(audit.reasons().empty() ? v1::VERDICT_GOOD : v1::VERDICT_FAILED);
  *entry.mutable_reasons() = audit.reasons();
  entry.set_worst_residual_ratio(audit.residuals().worst_ratio());
  entry.set_is_lawful(audit.residuals().worst_ratio() < Limits::kWorstResidual);
  entry.set_advance_m(audit.replay().advance_m());
  entry.set_plan_ratio(audit.replay().plan_ratio());
  for (const double slip_m : audit.replay().slip_m()) {
    entry.set_slip_m(std::max(entry.slip_m(), slip_m));
  }
  return entry;
}

// Adds how the gait does on each of its surfaces to the audit on the first.
absl::Status AuditElsewhere(const AuditRequest& request, v1::Audit* audit) {
  *audit->add_surfaces() = Entry(request.surface, *audit);
  for (const v1::Surface& surface : request.also_on) {
    GAITSHELF_ASSIGN_OR_RETURN(const v1::Audit there, AuditOn(surface, request));
    *audit->add_surfaces() = Entry(surface, there);
    for (const std::string& reason : there.reasons()) {
      audit->add_reasons(absl::StrCat("On ", surface.name(), ": ", reason));
    }
  }
  for (const v1::SurfaceAudit& entry : audit->surfaces()) {
    audit->set_worst_advance_error_ratio(
        std::max(audit->worst_advance_error_ratio(), std::abs(entry.plan_ratio() - 1.0)));
  }
  return absl::OkStatus();
}

}  // namespace

std::string CompiledLegsFault(const v1::ReplayReport& replay) {
  const v1::MechanismReport& mechanism = replay.mechanism();
  // Written so that a NaN fails.
  if (std::abs(mechanism.compiled_deviation_ratio()) <= Limits::kCompiledDeviationRatio) {
    return std::string();
  }
  return absl::StrFormat(
      "On the compiled legs the replay goes %.2f mm, on the whole mechanism %.2f mm: %.1f %% of "
      "the plan apart; the limit is %.0f %%, or spread and rival mean nothing.",
      1e3 * mechanism.compiled_advance_m(),
      1e3 * Stride(replay),
      1e2 * std::abs(mechanism.compiled_deviation_ratio()),
      1e2 * Limits::kCompiledDeviationRatio);
}

absl::StatusOr<v1::Audit> AuditGait(const AuditRequest& request) {
  GAITSHELF_RETURN_IF_ERROR(CheckBelonging(request));
  GAITSHELF_ASSIGN_OR_RETURN(v1::Audit audit, AuditOn(request.surface, request));
  if (!request.also_on.empty()) {
    GAITSHELF_RETURN_IF_ERROR(AuditElsewhere(request, &audit));
  }
  audit.set_verdict(audit.reasons().empty() ? v1::VERDICT_GOOD : v1::VERDICT_FAILED);
  return audit;
}

}  // namespace gaitshelf::solver
