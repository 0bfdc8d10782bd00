#include "clients/cli/order_flags.h"

#include <optional>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "absl/strings/ascii.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "clients/cli/quantity.h"

namespace gaitshelf::client {
namespace {

// Reads flags and keeps their faults.
class Reader {
 public:
  explicit Reader(const Arguments& arguments) : arguments_(arguments) {}

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
      {"robot", "NAME", "robot in the library", true},
      {"surface", "NAME", "surface in the library", true},
      {"advance", "LENGTH", "displacement per cycle, such as 9mm; backwards when negative"},
      {"frequency", "FREQUENCY", "cycles per second, such as 12Hz; goes with --advance"},
      {"hop", "LENGTH", "one jump with this rise, such as 9mm, instead of --advance"},
      {"seed", "PATTERN", "footfalls to start from: trot, walk, pace, bound, pronk"},
      {"rng", "NUMBER", "fixes every random choice; default 0"},
      {"knots", "NUMBER", "knots per cycle, 16 to 400; default: the planner chooses"},
      {"anew", "", "solve again although the library has a good gait"},
      {"detach", "", "return at once, do not follow the job"},
      {"quiet", "", "show no progress"},
  };
  return *flags;
}

absl::StatusOr<v1::GaitOrder> ReadOrder(const Arguments& arguments) {
  Reader reader(arguments);
  v1::GaitOrder order;
  order.set_robot(arguments.Value("robot").value_or(""));
  order.set_surface(arguments.Value("surface").value_or(""));
  order.set_stride_frequency_hz(reader.Quantity("frequency", Dimension::kFrequency));
  const double advance_m = reader.Quantity("advance", Dimension::kLength);
  const double rise_m = reader.Quantity("hop", Dimension::kLength);
  if (arguments.Has("advance") && arguments.Has("hop")) {
    reader.Fault("hop", "does not go with --advance; give one of them");
  } else if (arguments.Has("advance")) {
    order.mutable_task()->mutable_advance()->set_advance_m(advance_m);
    if (!arguments.Has("frequency")) {
      reader.Fault("frequency", "is missing; --advance needs it, such as --frequency 12Hz");
    }
  } else if (arguments.Has("hop")) {
    order.mutable_task()->mutable_hop()->set_rise_m(rise_m);
    if (arguments.Has("frequency")) {
      reader.Fault("frequency", "does not go with --hop; a hop has no stride frequency");
    }
  } else {
    reader.Fault("advance", "is missing; say --advance LENGTH or --hop LENGTH");
  }
  order.mutable_options()->set_seed_pattern(reader.Pattern("seed"));
  order.mutable_options()->set_rng(reader.Integer("rng"));
  order.mutable_options()->set_knot_count(reader.Integer("knots"));
  if (!reader.faults().empty()) {
    return absl::InvalidArgumentError(absl::StrJoin(reader.faults(), "\n"));
  }
  return order;
}

}  // namespace gaitshelf::client
