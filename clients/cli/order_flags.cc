#include "clients/cli/order_flags.h"

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "absl/status/status.h"
#include "absl/strings/ascii.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_split.h"
#include "absl/strings/string_view.h"
#include "clients/cli/quantity.h"

namespace gaitshelf::client {
namespace {

// Reads flags and keeps their faults.
class OrderReader {
 public:
  explicit OrderReader(const Arguments& arguments) : arguments_(arguments) {}

  double Quantity(const std::string& flag, Dimension dimension) {
    const std::optional<std::string> text = arguments_.Value(flag);
    if (!text.has_value()) {
      return 0.0;
    }
    const absl::StatusOr<double> value = ParseQuantity(*text, dimension);
    if (!value.ok()) {
      Fault(flag, std::string(value.status().message()));
      return 0.0;
    }
    return *value;
  }

  int Integer(const std::string& flag) {
    const std::optional<std::string> text = arguments_.Value(flag);
    int value = 0;
    if (text.has_value() && (!absl::SimpleAtoi(*text, &value) || value < 0)) {
      Fault(flag, absl::StrCat("'", *text, "' is not a whole number from 0 to 2147483647"));
    }
    return value;
  }

  v1::SeedPattern Pattern(const std::string& flag) {
    const std::optional<std::string> text = arguments_.Value(flag);
    if (!text.has_value()) {
      return v1::SEED_PATTERN_UNSPECIFIED;
    }
    v1::SeedPattern pattern = v1::SEED_PATTERN_UNSPECIFIED;
    if (!v1::SeedPattern_Parse(absl::StrCat("SEED_PATTERN_", absl::AsciiStrToUpper(*text)),
                               &pattern) ||
        pattern == v1::SEED_PATTERN_UNSPECIFIED) {
      Fault(flag,
            absl::StrCat("'", *text, "' is not a pattern; use trot, walk, pace, bound or pronk"));
    }
    return pattern;
  }

  v1::Objective Objective(const std::string& flag) {
    static constexpr std::pair<const char*, v1::Objective> kObjectives[] = {
        {"effort", v1::OBJECTIVE_LEAST_EFFORT},
        {"energy", v1::OBJECTIVE_LEAST_ENERGY},
        {"smooth", v1::OBJECTIVE_SMOOTHEST},
        {"peak", v1::OBJECTIVE_LEAST_PEAK_VOLTAGE}};
    const std::optional<std::string> text = arguments_.Value(flag);
    if (!text.has_value()) {
      return v1::OBJECTIVE_UNSPECIFIED;
    }
    for (const auto& [name, objective] : kObjectives) {
      if (*text == name) {
        return objective;
      }
    }
    Fault(flag, absl::StrCat("'", *text, "' is no objective; use effort, energy, smooth or peak"));
    return v1::OBJECTIVE_UNSPECIFIED;
  }

  // GAIT@PHASE; without a phase it is 0.
  std::string GaitAtPhase(const std::string& flag, double* phase_ratio) {
    const std::pair<std::string, std::string> parts =
        absl::StrSplit(arguments_.Value(flag).value_or(""), absl::MaxSplits('@', 1));
    if (parts.first.empty()) {
      Fault(flag, "is missing; a transition needs it, such as g-0123...@0.25");
    }
    if (!parts.second.empty() && (!absl::SimpleAtod(parts.second, phase_ratio) ||
                                  !(*phase_ratio >= 0.0 && *phase_ratio <= 1.0))) {
      Fault(flag, absl::StrCat("'", parts.second, "' is not a phase from 0 to 1"));
    }
    return parts.first;
  }

  void Fault(const std::string& flag, const std::string& text) {
    faults_.push_back(absl::StrCat("--", flag, ": ", text));
  }
  const std::vector<std::string>& faults() const { return faults_; }

 private:
  const Arguments& arguments_;
  std::vector<std::string> faults_;
};

}  // namespace

const std::vector<FlagSpec>& OrderFlags() {
  static const auto* const flags = new std::vector<FlagSpec>{
      {"robot", "ROBOT", "robot in the library", true},
      {"surface", "SURFACE", "surface in the library", true},
      {"also-on", "SURFACE,...", "further surfaces on which the same gait must be good"},
      {"advance", "LENGTH", "way per cycle, such as 9mm; backwards when negative; max: all it can"},
      {"sidestep", "LENGTH", "way to the left per cycle, such as 1mm; with or without --advance"},
      {"turn", "ANGLE", "turn to the left per cycle, such as 5deg; with or without --advance"},
      {"frequency", "FREQUENCY", "cycles per second, such as 12Hz; goes with these three"},
      {"hop", "LENGTH", "one jump with this rise, such as 9mm; over a distance with --advance"},
      {"stand", "LENGTH", "hold still this far above the usual height, such as 0mm or -1mm"},
      {"roll", "ANGLE", "of a stand, such as 3deg"},
      {"pitch", "ANGLE", "of a stand, nose down, such as 3deg"},
      {"from", "GAIT@PHASE", "the way from this gait at this phase into the one of --to"},
      {"to", "GAIT@PHASE", "gait and phase that --from leads into, such as g-0123...@0.25"},
      {"within", "NUMBER", "most cycles that the way takes, 1 to 8; default 2"},
      {"objective", "WHAT", "what is made small: effort (default), energy, smooth, peak"},
      {"seed", "PATTERN", "footfalls to start from: trot, walk, pace, bound, pronk"},
      {"rng", "NUMBER", "fixes every random choice; default 0"},
      {"knots", "NUMBER", "knots per cycle, 16 to 400; default: the planner chooses"},
      {"anew", "", "solve again although the library has a good gait"},
      {"detach", "", "return at once, do not follow the job"},
      {"quiet", "", "show no progress"},
  };
  return *flags;
}

namespace {

constexpr char kFarthest[] = "max";

// Complains of each of the flags that is given beside `task`, with which it does not go.
void RefuseBeside(const std::string& task,
                  const std::vector<std::string>& flags,
                  const Arguments& arguments,
                  OrderReader* reader) {
  for (const std::string& flag : flags) {
    if (arguments.Has(flag)) {
      reader->Fault(flag, absl::StrCat("does not go with --", task));
    }
  }
}

void ReadAdvance(const Arguments& arguments, OrderReader* reader, v1::Advance* advance) {
  if (arguments.Value("advance").value_or("") == kFarthest) {
    advance->set_is_maximal(true);
  } else {
    advance->set_advance_m(reader->Quantity("advance", Dimension::kLength));
  }
  advance->set_sidestep_m(reader->Quantity("sidestep", Dimension::kLength));
  advance->set_turn_rad(reader->Quantity("turn", Dimension::kAngle));
  if (!arguments.Has("frequency")) {
    reader->Fault("frequency", "is missing; a gait needs it, such as --frequency 12Hz");
  }
  RefuseBeside("advance", {"roll", "pitch"}, arguments, reader);
}

void ReadTransition(const Arguments& arguments, OrderReader* reader, v1::Transition* transition) {
  double phase_ratio = 0.0;
  transition->set_from_gait(reader->GaitAtPhase("from", &phase_ratio));
  transition->set_from_phase_ratio(phase_ratio);
  phase_ratio = 0.0;
  transition->set_to_gait(reader->GaitAtPhase("to", &phase_ratio));
  transition->set_to_phase_ratio(phase_ratio);
  constexpr int kUsualCycles = 2;
  transition->set_cycle_count(arguments.Has("within") ? reader->Integer("within") : kUsualCycles);
  RefuseBeside("from",
               {"advance",
                "sidestep",
                "turn",
                "hop",
                "stand",
                "roll",
                "pitch",
                "frequency",
                "knots",
                "seed"},
               arguments,
               reader);
}

void ReadTask(const Arguments& arguments, OrderReader* reader, v1::Task* task) {
  if (arguments.Has("from") || arguments.Has("to") || arguments.Has("within")) {
    ReadTransition(arguments, reader, task->mutable_transition());
  } else if (arguments.Has("hop")) {
    task->mutable_hop()->set_rise_m(reader->Quantity("hop", Dimension::kLength));
    task->mutable_hop()->set_advance_m(reader->Quantity("advance", Dimension::kLength));
    RefuseBeside(
        "hop", {"stand", "sidestep", "turn", "roll", "pitch", "frequency"}, arguments, reader);
  } else if (arguments.Has("stand")) {
    task->mutable_stand()->set_height_m(reader->Quantity("stand", Dimension::kLength));
    task->mutable_stand()->set_roll_rad(reader->Quantity("roll", Dimension::kAngle));
    task->mutable_stand()->set_pitch_rad(reader->Quantity("pitch", Dimension::kAngle));
    RefuseBeside("stand", {"advance", "sidestep", "turn", "frequency"}, arguments, reader);
  } else if (arguments.Has("advance") || arguments.Has("sidestep") || arguments.Has("turn")) {
    ReadAdvance(arguments, reader, task->mutable_advance());
  } else {
    reader->Fault("advance",
                  "is missing; say --advance LENGTH, --turn ANGLE, --hop LENGTH, --stand LENGTH or "
                  "--from GAIT@PHASE");
  }
}

}  // namespace

absl::StatusOr<v1::GaitOrder> ReadOrder(const Arguments& arguments) {
  OrderReader reader(arguments);
  v1::GaitOrder order;
  order.set_robot(arguments.Value("robot").value_or(""));
  order.set_surface(arguments.Value("surface").value_or(""));
  for (const absl::string_view name :
       absl::StrSplit(arguments.Value("also-on").value_or(""), ',', absl::SkipEmpty())) {
    order.add_also_on(std::string(name));
  }
  order.set_stride_frequency_hz(reader.Quantity("frequency", Dimension::kFrequency));
  ReadTask(arguments, &reader, order.mutable_task());
  order.set_objective(reader.Objective("objective"));
  order.mutable_options()->set_seed_pattern(reader.Pattern("seed"));
  order.mutable_options()->set_rng(reader.Integer("rng"));
  order.mutable_options()->set_knot_count(reader.Integer("knots"));
  if (!reader.faults().empty()) {
    return absl::InvalidArgumentError(absl::StrJoin(reader.faults(), "\n"));
  }
  return order;
}

}  // namespace gaitshelf::client
