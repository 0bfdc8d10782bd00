#include "clients/cli/gait_text.h"

#include <algorithm>
#include <cstddef>
#include <numbers>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "clients/cli/table.h"

namespace gaitshelf::client {
namespace {

google::protobuf::RepeatedPtrField<std::string> NamesOf(const v1::Gait& gait) {
  google::protobuf::RepeatedPtrField<std::string> names;
  for (const v1::SurfaceVersion& version : gait.also_on()) {
    *names.Add() = version.surface();
  }
  return names;
}

void AppendAsked(const v1::Gait& gait, std::string& text) {
  absl::StrAppendFormat(
      &text,
      "%s\n  %s on %s, %s%s\n  audit: %s\n",
      gait.name(),
      gait.robot(),
      SurfacesText(gait.surface(), NamesOf(gait)),
      TaskText(gait.task()),
      gait.is_periodic() ? absl::StrCat(" at ", Hertz(gait.stride_frequency_hz())) : std::string(),
      VerdictText(gait.audit().verdict()));
  for (const std::string& reason : gait.audit().reasons()) {
    absl::StrAppend(&text, "    ", reason, "\n");
  }
}

// A hop and a stand have but one seed, without a name.
std::string SeedText(v1::SeedPattern pattern) {
  return pattern == v1::SEED_PATTERN_UNSPECIFIED
             ? ""
             : absl::StrCat(", seed ", EnumText(v1::SeedPattern_Name(pattern), "SEED_PATTERN_"));
}

void AppendPlan(const v1::Gait& gait, std::string& text) {
  const v1::PlanReport& report = gait.report();
  absl::StrAppendFormat(&text,
                        "\nplan\n  %s after %d rounds and %d iterations in %.2f s\n"
                        "  variant %d, retry rung %d%s, rng %d\n",
                        EnumText(v1::PlanOutcome_Name(report.outcome()), "PLAN_OUTCOME_"),
                        report.round_count(),
                        report.iteration_count(),
                        report.solve_s(),
                        report.variant(),
                        report.retry_rung(),
                        SeedText(report.seed_pattern()),
                        report.rng());
  if (gait.objective() > v1::OBJECTIVE_LEAST_EFFORT) {
    absl::StrAppend(
        &text, "  objective ", EnumText(v1::Objective_Name(gait.objective()), "OBJECTIVE_"), "\n");
  }
  if (!report.reason().empty()) {
    absl::StrAppend(&text, "  ", report.reason(), "\n");
  }
  if (gait.compile_error_ratio() > 0.0) {
    absl::StrAppendFormat(
        &text, "  legs compiled to %.1e of their functions\n", gait.compile_error_ratio());
  }
  absl::StrAppendFormat(&text,
                        "  %d knots, %.3f ms apart; %d coordinates, %d loop equations\n"
                        "  displacement %s; peak %.1f V; violation %.1e; cost %.4g\n",
                        gait.knot_count(),
                        gait.knot_period_s() * 1e3,
                        gait.coordinate_count(),
                        gait.loop_equation_count(),
                        Millimetres(gait.advance_m()),
                        report.peak_voltage_v(),
                        report.violation_ratio(),
                        report.cost_ratio());
}

void AppendResiduals(const v1::PlanResiduals& residuals, std::string& text) {
  absl::StrAppendFormat(&text,
                        "\naudit of the plan, largest residual at the knots (scaled)\n"
                        "  dynamics    %.1e   penetration %.1e   contact %.1e   cone %.1e\n"
                        "  dissipation %.1e   periodicity %.1e   voltage %.1e   travel %.1e\n"
                        "  worst       %.1e\n",
                        residuals.dynamics_ratio(),
                        residuals.penetration_ratio(),
                        residuals.complementarity_ratio(),
                        residuals.cone_ratio(),
                        residuals.dissipation_ratio(),
                        residuals.periodicity_ratio(),
                        residuals.voltage_ratio(),
                        residuals.travel_ratio(),
                        residuals.worst_ratio());
}

void AppendReplay(const v1::Gait& gait, std::string& text) {
  const v1::ReplayReport& replay = gait.audit().replay();
  absl::StrAppendFormat(&text,
                        "\nreplay under the leg controller, steps of %.3f ms\n"
                        "  displacement %s; %.3f of the plan; turn %.2f deg per cycle\n",
                        replay.step_s() * 1e3,
                        Millimetres(replay.advance_m()),
                        replay.plan_ratio(),
                        replay.turn_rad() * 180.0 / std::numbers::pi);
  if (gait.sidestep_m() != 0.0 || gait.turn_rad() != 0.0) {
    absl::StrAppendFormat(&text,
                          "  sidestep %s, planned %s; turn planned %.2f deg per cycle\n",
                          Millimetres(replay.sidestep_m()),
                          Millimetres(gait.sidestep_m()),
                          gait.turn_rad() * 180.0 / std::numbers::pi);
  }
  if (replay.has_transition()) {
    const v1::TransitionReport& report = replay.transition();
    absl::StrAppendFormat(&text,
                          "  before %s per cycle; on the way %s; after %s per cycle,\n"
                          "  %.3f of what that gait makes by itself\n",
                          Millimetres(report.before_advance_m()),
                          Millimetres(report.advance_m()),
                          Millimetres(report.after_advance_m()),
                          report.after_ratio());
  }
  if (gait.task().has_hop()) {
    absl::StrAppendFormat(&text,
                          "  rise %s, asked %s\n",
                          Millimetres(replay.rise_m()),
                          Millimetres(gait.task().hop().rise_m()));
  } else {
    absl::StrAppend(&text, "  each cycle:");
    for (const double advance_m : replay.cycle_advance_m()) {
      absl::StrAppendFormat(&text, " %.2f", advance_m * 1e3);
    }
    absl::StrAppend(&text, " mm\n");
  }
  absl::StrAppendFormat(&text,
                        "  peak %.1f V, %.0f V/ms; overtravel %s; tilt %.2f deg\n"
                        "  footfalls agree %.1f %%; energy balance %.1e; contact residual %.1e\n",
                        replay.peak_voltage_v(),
                        replay.peak_slew_v_per_s() * 1e-3,
                        Millimetres(replay.peak_overtravel_m()),
                        replay.peak_tilt_rad() * 180.0 / std::numbers::pi,
                        replay.footfall_agreement_ratio() * 100.0,
                        replay.energy_balance_ratio(),
                        replay.contact_residual_ratio());
}

void AppendSurfaces(const v1::Audit& audit, std::string& text) {
  Table table({"surface", "verdict", ">got mm", ">of the plan", ">slip mm", ">residual", "laws"});
  for (const v1::SurfaceAudit& entry : audit.surfaces()) {
    table.AddRow({entry.surface(),
                  VerdictText(entry.verdict()),
                  Fixed(entry.advance_m() * 1e3, 2),
                  Fixed(entry.plan_ratio(), 3),
                  Fixed(entry.slip_m() * 1e3, 3),
                  Scientific(entry.worst_residual_ratio()),
                  entry.is_lawful() ? "hold" : "slides"});
  }
  absl::StrAppendFormat(&text,
                        "\non each surface, off the plan by %.1f %% at most; where a plan slides "
                        "only\nits replays count\n%s",
                        audit.worst_advance_error_ratio() * 100.0,
                        table.ToText());
}

void AppendFlexure(const std::string& what, const v1::FlexureLoad& load, std::string& text) {
  absl::StrAppendFormat(&text,
                        "  %s: %s of %s, %.1f deg",
                        what,
                        load.flexure(),
                        load.leg(),
                        load.angle_rad() * 180.0 / std::numbers::pi);
  if (load.strain_ratio() > 0.0) {
    absl::StrAppendFormat(&text, ", film strained by %.2f %%", load.strain_ratio() * 100.0);
  }
  absl::StrAppend(&text, "\n");
}

void AppendMechanism(const v1::MechanismReport& mechanism, std::string& text) {
  absl::StrAppendFormat(&text,
                        "\ninside the mechanism, %d coordinates and %d loop equations\n",
                        mechanism.coordinate_count(),
                        mechanism.loop_equation_count());
  if (mechanism.has_most_bent()) {
    AppendFlexure("bends most", mechanism.most_bent(), text);
  }
  if (mechanism.has_most_strained()) {
    AppendFlexure("strained most", mechanism.most_strained(), text);
  }
  if (mechanism.has_most_loaded()) {
    absl::StrAppendFormat(&text,
                          "  loaded most: %s of %s, %.1f mN\n",
                          mechanism.most_loaded().flexure(),
                          mechanism.most_loaded().leg(),
                          mechanism.most_loaded().force_n() * 1e3);
  }
  absl::StrAppendFormat(
      &text,
      "  loops open by %.1e m at most\n  on the compiled legs %s, apart by %+.3f %% of the plan\n",
      mechanism.loop_residual_m(),
      Millimetres(mechanism.compiled_advance_m()),
      mechanism.compiled_deviation_ratio() * 100.0);
}

void AppendComparisons(const v1::Gait& gait, std::string& text) {
  const v1::Audit& audit = gait.audit();
  if (audit.has_spread()) {
    const v1::Spread& spread = audit.spread();
    absl::StrAppendFormat(&text,
                          "\nspread over %d replays with numbers as uncertain as stated\n"
                          "  mean %s, deviation %s, %.0f %% fell\n"
                          "  5th percentile %s, least %s\n",
                          spread.replay_count(),
                          Millimetres(spread.mean_m()),
                          Millimetres(spread.deviation_m()),
                          spread.fall_ratio() * 100.0,
                          Millimetres(spread.p05_m()),
                          Millimetres(spread.least_m()));
  }
  if (!audit.has_hand_tuned()) {
    return;
  }
  const v1::HandTuned& rival = audit.hand_tuned();
  absl::StrAppendFormat(
      &text, "\nhand-tuned rival, best of %d replays of parametric gaits\n", rival.replay_count());
  if (rival.advance_m() == 0.0) {
    absl::StrAppend(&text, "  none: every one falls, drags a foot or chatters\n");
    return;
  }
  absl::StrAppendFormat(&text,
                        "  displacement %s; this gait goes %+.1f %% further\n"
                        "  %s, duty %.2f, asks for %s; %d accepted\n"
                        "  clearance %s, body at %s\n",
                        Millimetres(rival.advance_m()),
                        100.0 * (audit.replay().advance_m() / rival.advance_m() - 1.0),
                        EnumText(v1::SeedPattern_Name(rival.seed_pattern()), "SEED_PATTERN_"),
                        rival.duty_ratio(),
                        Millimetres(rival.asked_advance_m()),
                        rival.accepted_count(),
                        Millimetres(rival.clearance_m()),
                        Millimetres(rival.body_height_m()));
}

// A value of a per-foot array, or a dash where the array is short: an unaudited gait has none.
template <typename Array>
std::string FootCell(const Array& values, int foot, double scale, int decimals) {
  return foot < values.size() ? Fixed(static_cast<double>(values.Get(foot)) * scale, decimals)
                              : std::string("-");
}

void AppendFeet(const v1::Gait& gait, std::string& text) {
  Table table({"foot", ">touchdowns", ">replayed", ">slip mm", ">replayed", ">duty", ">peak mN"});
  const int feet = gait.foot_names_size();
  for (int foot = 0; foot < feet; ++foot) {
    int contacts = 0;
    double peak_n = 0.0;
    for (int knot = 0; knot < gait.knot_count(); ++knot) {
      const int index = (knot * feet + foot) * 3 + 2;
      const double normal_n = index < gait.foot_force_n_size() ? gait.foot_force_n(index) : 0.0;
      peak_n = std::max(peak_n, normal_n);
      // A knot counts as contact above 1 uN: far below a weight of grams, far above rounding.
      contacts += normal_n > 1e-6 ? 1 : 0;
    }
    const double duty_ratio = gait.knot_count() > 0 ? 1.0 * contacts / gait.knot_count() : 0;
    table.AddRow({gait.foot_names(foot),
                  FootCell(gait.report().touchdown_count(), foot, 1.0, 0),
                  FootCell(gait.audit().replay().touchdown_ratio(), foot, 1.0, 2),
                  FootCell(gait.report().slip_m(), foot, 1e3, 3),
                  FootCell(gait.audit().replay().slip_m(), foot, 1e3, 3),
                  Fixed(duty_ratio, 2),
                  Fixed(peak_n * 1e3, 2)});
  }
  absl::StrAppend(&text, "\nfeet, per cycle\n", table.ToText());
}

void AddGait(const v1::GaitSummary& gait, Table* table) {
  const bool is_hop = gait.task().has_hop();
  table->AddRow({gait.name(),
                 SurfacesCell(gait.surface(), gait.also_on_size()),
                 is_hop                         ? "hop"
                 : gait.task().has_stand()      ? "stand"
                 : gait.task().has_transition() ? "into"
                                                : absl::StrFormat("%g", gait.stride_frequency_hz()),
                 Fixed((is_hop ? gait.rise_m() : gait.advance_m()) * 1e3, 2),
                 Fixed((is_hop ? gait.replayed_rise_m() : gait.replayed_advance_m()) * 1e3, 2),
                 VerdictText(gait.verdict()) + (gait.is_superseded() ? "*" : "")});
}

}  // namespace

std::string GaitTable(const v1::ListGaitsResponse& gaits) {
  NamedTables tables({"gait", "surface", ">Hz", ">mm", ">got mm", "verdict"});
  bool has_old = false;
  bool has_several = false;
  for (const v1::GaitSummary& gait : gaits.gaits()) {
    AddGait(gait, &tables.Of(gait.robot()));
    has_old = has_old || gait.is_superseded();
    has_several = has_several || gait.also_on_size() > 0;
  }
  constexpr std::size_t kNamedFrom = 2;
  std::string text = tables.ToText(kNamedFrom);
  if (has_old) {
    absl::StrAppend(&text, "* robot or surface has a newer version than the gait was solved for\n");
  }
  if (has_several) {
    absl::StrAppend(&text, "+ good on that many more surfaces: gaitshelf show GAIT names them\n");
  }
  return text;
}

std::string GaitText(const v1::Gait& gait) {
  std::string text;
  AppendAsked(gait, text);
  AppendPlan(gait, text);
  if (gait.has_audit()) {
    AppendResiduals(gait.audit().residuals(), text);
    AppendReplay(gait, text);
    if (gait.audit().surfaces_size() > 0) {
      AppendSurfaces(gait.audit(), text);
    }
    if (gait.audit().replay().has_mechanism()) {
      AppendMechanism(gait.audit().replay().mechanism(), text);
    }
    AppendComparisons(gait, text);
  }
  AppendFeet(gait, text);
  const v1::Provenance& provenance = gait.provenance();
  absl::StrAppendFormat(&text,
                        "\nasked by %s, solved %s\non %s by version %s (%s, attempt %d, %.1f s)\n"
                        "robot %s\nsurface %s\n",
                        provenance.requester(),
                        ShortTime(provenance.create_time()),
                        provenance.host(),
                        provenance.program_version(),
                        provenance.job(),
                        provenance.attempt(),
                        provenance.wall_s(),
                        gait.robot_digest(),
                        gait.surface_digest());
  return text;
}

}  // namespace gaitshelf::client
