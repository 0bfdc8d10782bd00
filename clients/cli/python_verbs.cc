// The verbs that the Python package carries out: sweep, map, plot. Flags are read here, so that
// faults, units and help are those of every verb.
#include <optional>
#include <ostream>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_join.h"
#include "clients/channel/channel.h"
#include "clients/cli/quantity.h"
#include "clients/cli/run_python.h"
#include "clients/cli/session.h"

namespace gaitshelf::client {
namespace {

// Gathers the flags for the package's command; keeps their faults.
class Words {
 public:
  explicit Words(const Arguments& arguments) : arguments_(arguments) {}

  void Add(const std::string& word) { words_.push_back(word); }
  // Hands a flag on as it is, when it was given.
  void AddText(const std::string& flag) {
    if (const std::optional<std::string> text = arguments_.Value(flag); text.has_value()) {
      words_.push_back(absl::StrCat("--", flag, "=", *text));
    }
  }
  // Hands on the SI values of a flag that lists quantities.
  void AddQuantities(const std::string& flag, Dimension dimension) {
    const std::optional<std::string> text = arguments_.Value(flag);
    if (!text.has_value()) {
      return;
    }
    const absl::StatusOr<std::vector<double>> values = ParseQuantities(*text, dimension);
    if (!values.ok()) {
      faults_.push_back(absl::StrCat("--", flag, ": ", values.status().message()));
      return;
    }
    std::vector<std::string> numbers;
    for (const double value : *values) {
      numbers.push_back(absl::StrFormat("%.17g", value));
    }
    words_.push_back(absl::StrCat("--", flag, "=", absl::StrJoin(numbers, ",")));
  }

  void AddQuantity(const std::string& flag, Dimension dimension) {
    const std::optional<std::string> text = arguments_.Value(flag);
    if (!text.has_value()) {
      return;
    }
    const absl::StatusOr<double> value = ParseQuantity(*text, dimension);
    if (!value.ok()) {
      faults_.push_back(absl::StrCat("--", flag, ": ", value.status().message()));
      return;
    }
    words_.push_back(absl::StrFormat("--%s=%.17g", flag, *value));
  }

  absl::Status Check() const {
    return faults_.empty() ? absl::OkStatus()
                           : absl::InvalidArgumentError(absl::StrJoin(faults_, "\n"));
  }

  // Runs the package's command; returns only on failure.
  int Run(const char* verb, const Session& session) const {
    std::vector<std::string> words = {verb, absl::StrCat("--server=", session.server.address)};
    if (const std::string identity = IdentityFolder(arguments_.Value("identity"));
        !identity.empty()) {
      words.push_back(absl::StrCat("--identity=", identity));
    }
    if (session.is_json) {
      words.emplace_back("--json");
    }
    words.insert(words.end(), words_.begin(), words_.end());
    words.insert(words.end(), arguments_.words().begin(), arguments_.words().end());
    session.console.out << std::flush;
    return Fail(session, RunPython(words));
  }

 private:
  const Arguments& arguments_;
  std::vector<std::string> words_;
  std::vector<std::string> faults_;
};

Words SweepWords(const Arguments& arguments) {
  Words words(arguments);
  words.AddText("robot");
  words.AddText("surface");
  words.AddQuantities("frequency", Dimension::kFrequency);
  words.AddQuantities("advance", Dimension::kLength);
  if (arguments.Has("quiet")) {
    words.Add("--quiet");
  }
  return words;
}

Words PictureWords(const Arguments& arguments) {
  Words words(arguments);
  words.AddText("surface");
  words.AddQuantities("advance", Dimension::kLength);
  words.AddQuantity("greatest-delay", Dimension::kTime);
  words.AddText("out");
  return words;
}

int Sweep(const Arguments& arguments, Session& session) {
  return SweepWords(arguments).Run("sweep", session);
}

int Map(const Arguments& arguments, Session& session) {
  return PictureWords(arguments).Run("map", session);
}

int Plot(const Arguments& arguments, Session& session) {
  return PictureWords(arguments).Run("plot", session);
}

absl::Status CheckSweep(const Arguments& arguments) { return SweepWords(arguments).Check(); }
absl::Status CheckPicture(const Arguments& arguments) { return PictureWords(arguments).Check(); }

}  // namespace

std::vector<Verb> PythonVerbs() {
  const FlagSpec surface{"surface", "SURFACE", "only gaits on this surface"};
  const FlagSpec advance{"advance", "LIST", "only gaits asked for these, such as 9mm"};
  return {
      {{"sweep",
        {},
        "order a set of gaits with one progress",
        "Orders a gait for every surface, advance and frequency, neighbours in frequency after\n"
        "each other. Lists take commas, and ranges as FROM:TO:STEP. What the library has is not\n"
        "solved again, so a sweep that was cut short goes on when it is given again; Ctrl-C\n"
        "leaves the jobs running. Ends with 3 when an order could not be met.",
        "gaitshelf sweep --robot weevil --surface duct-steel "
        "--frequency 10Hz:14Hz:2Hz --advance 9mm",
        {{"robot", "ROBOT", "robot in the library", true},
         {"surface", "SURFACE,...", "surfaces in the library: duct-steel,liner-felt", true},
         {"frequency", "LIST", "3Hz,12Hz or 2Hz:30Hz:2Hz", true},
         {"advance", "LIST", "way per cycle: 9mm or 6mm,9mm", true},
         {"quiet", "", "show no progress"}}},
       Sweep,
       CheckSweep},
      {{"map",
        {"ROBOT"},
        "table of stride, spread and energy over frequency",
        "Shows the robot's good gaits by surface and frequency: replayed way per cycle, its\n"
        "mean and 5th percentile under the stated uncertainties, and the energy that charges the\n"
        "drives per metre. Between them stand the frequencies at which the robot rings.",
        "gaitshelf map weevil\n"
        "gaitshelf map weevil --surface duct-steel --advance 9mm --json",
        {surface, advance}},
       Map,
       CheckPicture},
      {{"plot",
        {"footfalls|legs|forces|body|spread|animation|map|trial|strides", "NAME"},
        "draw a gait, the gaits of a robot, or a trial",
        "NAME is a gait; for map it is a robot, for spread either, for trial and strides a trial:\n"
        "its mean cycle over the plan, and each cycle's stride beside plan, replay and hand-tuned\n"
        "gait. The ending of FILE says what is written: .png, .svg or .pdf, and .gif for an\n"
        "animation.",
        "gaitshelf plot footfalls g-0123456789abcdef0123456789abcdef -o footfalls.png\n"
        "gaitshelf plot map weevil -o map.svg",
        {{"out", "FILE", "where to write (-o FILE)", true, "o"},
         surface,
         advance,
         {"greatest-delay", "TIME", "a trial's tracking lags by less than this, such as 50ms"}},
        {{"footfalls", "GAIT"},
         {"legs", "GAIT"},
         {"forces", "GAIT"},
         {"body", "GAIT"},
         {"spread", "GAIT|ROBOT"},
         {"animation", "GAIT"},
         {"map", "ROBOT"},
         {"trial", "TRIAL"},
         {"strides", "TRIAL"}}},
       Plot,
       CheckPicture},
  };
}

}  // namespace gaitshelf::client
