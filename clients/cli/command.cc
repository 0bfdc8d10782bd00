#include "clients/cli/command.h"

#include <algorithm>
#include <cstddef>
#include <optional>
#include <ostream>

#include "absl/status/status.h"
#include "absl/strings/ascii.h"
#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"
#include "absl/strings/string_view.h"
#include "absl/strings/strip.h"
#include "clients/channel/channel.h"
#include "clients/cli/arguments.h"
#include "clients/cli/completion.h"
#include "clients/cli/dial.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/help_text.h"
#include "clients/cli/server_error.h"
#include "clients/cli/server_names.h"
#include "clients/cli/session.h"

namespace gaitshelf::client {
namespace {

Verb CompletionVerb();

std::vector<Verb> AllVerbs() {
  std::vector<Verb> verbs = DescriptionVerbs();
  for (const auto& more : {ModesVerbs(),
                           OrderVerbs(),
                           PythonVerbs(),
                           GaitVerbs(),
                           TrialVerbs(),
                           TrialPoseVerbs(),
                           CalibrationVerbs(),
                           ReplanVerbs(),
                           StreamVerbs(),
                           ExportVerbs(),
                           CareVerbs(),
                           BundleVerbs()}) {
    verbs.insert(verbs.end(), more.begin(), more.end());
  }
  verbs.push_back(CompletionVerb());
  return verbs;
}

std::vector<VerbSpec> AllSpecs() {
  std::vector<VerbSpec> specs;
  for (const Verb& verb : AllVerbs()) {
    specs.push_back(verb.spec);
  }
  return specs;
}

// What a flag says in a command line that is not finished yet.
std::optional<std::string> TypedValue(const std::vector<std::string>& words,
                                      const std::string& flag) {
  for (std::size_t i = 0; i < words.size(); ++i) {
    absl::string_view word = words[i];
    if (!absl::ConsumePrefix(&word, flag)) {
      continue;
    }
    if (word.empty() && i + 1 < words.size()) {
      return words[i + 1];
    }
    if (absl::ConsumePrefix(&word, "=")) {
      return std::string(word);
    }
  }
  return std::nullopt;
}

// Answers the script for bash: one candidate a line, or FILE.
int AnswerCompletion(const std::vector<std::string>& words, Console& console) {
  const Candidates candidates = Complete(AllSpecs(), words);
  for (const std::string& word : candidates.words) {
    console.out << word << "\n";
  }
  if (candidates.kinds.empty()) {
    console.out << (candidates.is_file ? "FILE\n" : "");
    return kExitOk;
  }
  const absl::StatusOr<Connection> server = Dial(ServerAddress(TypedValue(words, "--server")),
                                                 IdentityFolder(TypedValue(words, "--identity")));
  for (const NameKind kind : candidates.kinds) {
    for (const std::string& name :
         server.ok() ? ServerNames(*server, kind) : std::vector<std::string>()) {
      if (absl::StartsWith(name, candidates.typed)) {
        console.out << candidates.before << name << "\n";
      }
    }
  }
  return kExitOk;
}

int ShowCompletion(const Arguments& /*arguments*/, Session& session) {
  session.console.out << BashCompletion();
  return kExitOk;
}

Verb CompletionVerb() {
  return {{"completion",
           {"bash"},
           "print the script by which bash completes gaitshelf",
           "The script asks this command at every key for its verbs, flags and choices, and the\n"
           "server for the names of robots, surfaces, gaits, jobs, trials and calibrations.",
           "gaitshelf completion bash",
           {}},
          ShowCompletion};
}

// Number of leading words that form the path, or 0.
std::size_t MatchPath(const std::string& path, const std::vector<std::string>& words) {
  const std::vector<std::string> parts = absl::StrSplit(path, ' ');
  if (words.size() < parts.size() || !std::equal(parts.begin(), parts.end(), words.begin())) {
    return 0;
  }
  return parts.size();
}

std::string UnknownVerb(const std::vector<Verb>& verbs, const std::vector<std::string>& words) {
  std::vector<std::string> paths;
  paths.reserve(verbs.size());
  for (const Verb& verb : verbs) {
    paths.push_back(verb.spec.path);
  }
  std::string nearest = NearestWord(words[0], paths);
  if (nearest.empty() && words.size() > 1) {
    nearest = NearestWord(absl::StrCat(words[0], " ", words[1]), paths);
  }
  const std::string hint =
      nearest.empty() ? "gaitshelf --help lists them" : absl::StrCat("meant '", nearest, "'?");
  if (words[0] == "bundle") {
    return "'bundle' takes export FILE or import FILE";
  }
  if (words[0] == "calibration") {
    return "'calibration' takes list, show CALIBRATION or accept CALIBRATION";
  }
  if (words[0] == "trial") {
    return "'trial' takes put FILE..., list, show TRIAL, analyse TRIAL or compare TRIAL";
  }
  const bool is_half = words[0] == "robot" || words[0] == "surface";
  if (is_half) {
    return absl::StrCat(
        "'", words[0], "' takes put FILE, show ", absl::AsciiStrToUpper(words[0]), " or list");
  }
  return absl::StrCat("no verb '", words[0], "'; ", hint);
}

// Runs a verb with the words that follow it.
int RunVerb(const Verb& verb,
            const std::vector<std::string>& words,
            bool is_json,
            Console& console) {
  const absl::StatusOr<Arguments> arguments = ParseArguments(verb.spec, words, verb.check);
  if (!arguments.ok()) {
    console.err << Describe(FromStatus(arguments.status()), is_json) << std::flush;
    if (!is_json) {
      console.err << "usage: " << Usage(verb.spec) << "\n";
    }
    return kExitUsage;
  }
  if (arguments->Has("help")) {
    console.out << VerbHelp(verb.spec);
    return kExitOk;
  }
  const std::string address = ServerAddress(arguments->Value("server"));
  // The script for bash asks no server and must not fail for want of an identity.
  absl::StatusOr<Connection> connection =
      verb.run == ShowCompletion ? Connect(address)
                                 : Dial(address, IdentityFolder(arguments->Value("identity")));
  if (!connection.ok()) {
    const Failure failure = FromStatus(connection.status());
    console.err << Describe(failure, is_json) << std::flush;
    return failure.exit_code;
  }
  Session session{console, *std::move(connection), is_json};
  return verb.run(*arguments, session);
}

}  // namespace

int RunCommand(const std::vector<std::string>& words, Console& console) {
  const std::vector<Verb> verbs = AllVerbs();
  if (!words.empty() && words[0] == kCompletionRequest) {
    return AnswerCompletion({words.begin() + 1, words.end()}, console);
  }
  const bool is_json = std::find(words.begin(), words.end(), "--json") != words.end();
  if (words.empty() || words[0] == "--help" || words[0] == "help") {
    (words.empty() ? console.err : console.out) << GeneralHelp(AllSpecs());
    return words.empty() ? kExitUsage : kExitOk;
  }
  for (const Verb& verb : verbs) {
    const std::size_t used = MatchPath(verb.spec.path, words);
    if (used > 0) {
      const auto rest = words.begin() + static_cast<std::ptrdiff_t>(used);
      return RunVerb(verb, {rest, words.end()}, is_json, console);
    }
  }
  const absl::Status unknown = absl::InvalidArgumentError(UnknownVerb(verbs, words));
  console.err << Describe(FromStatus(unknown), is_json) << std::flush;
  return kExitUsage;
}

}  // namespace gaitshelf::client
