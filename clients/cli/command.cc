#include "clients/cli/command.h"

#include <algorithm>
#include <cstddef>
#include <ostream>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_split.h"
#include "clients/cli/arguments.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/server_error.h"
#include "clients/cli/session.h"

namespace gaitshelf::client {
namespace {

std::vector<Verb> AllVerbs() {
  std::vector<Verb> verbs = DescriptionVerbs();
  for (const auto& more : {ModesVerbs(),
                           OrderVerbs(),
                           GaitVerbs(),
                           TrialVerbs(),
                           StreamVerbs(),
                           CareVerbs(),
                           BundleVerbs()}) {
    verbs.insert(verbs.end(), more.begin(), more.end());
  }
  return verbs;
}

std::string Usage(const VerbSpec& spec) {
  std::string line = absl::StrCat("gaitshelf ", spec.path);
  for (const std::string& word : spec.words) {
    absl::StrAppend(&line, " ", word);
  }
  for (const FlagSpec& flag : spec.flags) {
    if (flag.is_required) {
      absl::StrAppend(&line, " --", flag.name, " ", flag.value_word);
    }
  }
  return line;
}

void AppendFlags(const std::vector<FlagSpec>& flags, std::string& text) {
  for (const FlagSpec& flag : flags) {
    absl::StrAppendFormat(
        &text,
        "  %-22s %s\n",
        absl::StrCat("--", flag.name, flag.value_word.empty() ? "" : " ", flag.value_word),
        flag.help);
  }
}

std::string VerbHelp(const VerbSpec& spec) {
  std::string text = absl::StrCat(Usage(spec), "\n  ", spec.summary, "\n");
  if (!spec.detail.empty()) {
    absl::StrAppend(&text, "\n", spec.detail, "\n");
  }
  absl::StrAppend(&text, "\nflags\n");
  AppendFlags(spec.flags, text);
  AppendFlags(GlobalFlags(), text);
  absl::StrAppend(&text, "\nexample\n  ", spec.example, "\n");
  return text;
}

std::string GeneralHelp(const std::vector<Verb>& verbs) {
  std::string text =
      "gaitshelf: plan, keep, serve and stream gaits of small legged robots\n\n"
      "usage: gaitshelf VERB ... (gaitshelf VERB --help tells more)\n\n";
  for (const Verb& verb : verbs) {
    std::string left = verb.spec.path;
    for (const std::string& word : verb.spec.words) {
      absl::StrAppend(&left, " ", word);
    }
    absl::StrAppendFormat(&text, "  %-19s %s\n", left, verb.spec.summary);
  }
  absl::StrAppend(&text, "\nflags of every verb\n");
  AppendFlags(GlobalFlags(), text);
  absl::StrAppend(&text,
                  "\nQuantities carry their unit: 12Hz 9mm 0.3deg 2.5ms 100V.\n"
                  "The server's address is --server, else GAITSHELF_SERVER, else the socket\n"
                  "gaitshelf.sock in XDG_RUNTIME_DIR or /tmp.\n"
                  "Exit codes: 0 done; 1 error; 2 the command line, a description or an order\n"
                  "breaks a rule; 3 the job ended without a good gait; 4 not found;\n"
                  "130 interrupted.\n");
  return text;
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
  if (words[0] == "trial") {
    return "'trial' takes put FILE..., list, show TRIAL, analyse TRIAL or compare TRIAL";
  }
  const bool is_half = words[0] == "robot" || words[0] == "surface";
  if (is_half) {
    return absl::StrCat("'", words[0], "' takes put FILE, show NAME or list");
  }
  return absl::StrCat("no verb '", words[0], "'; ", hint);
}

}  // namespace

int RunCommand(const std::vector<std::string>& words, Console& console) {
  const std::vector<Verb> verbs = AllVerbs();
  const bool is_json = std::find(words.begin(), words.end(), "--json") != words.end();
  const auto refuse = [&](const absl::Status& status) {
    console.err << Describe(FromStatus(status), is_json) << std::flush;
    return kExitUsage;
  };
  if (words.empty() || words[0] == "--help" || words[0] == "help") {
    (words.empty() ? console.err : console.out) << GeneralHelp(verbs);
    return words.empty() ? kExitUsage : kExitOk;
  }
  for (const Verb& verb : verbs) {
    const std::size_t used = MatchPath(verb.spec.path, words);
    if (used == 0) {
      continue;
    }
    const auto rest = words.begin() + static_cast<std::ptrdiff_t>(used);
    const auto arguments = ParseArguments(verb.spec, {rest, words.end()});
    if (!arguments.ok()) {
      const int code = refuse(arguments.status());
      if (!is_json) {
        console.err << "usage: " << Usage(verb.spec) << "\n";
      }
      return code;
    }
    if (arguments->Has("help")) {
      console.out << VerbHelp(verb.spec);
      return kExitOk;
    }
    Session session{console, Connect(ServerAddress(arguments->Value("server"))), is_json};
    return verb.run(*arguments, session);
  }
  return refuse(absl::InvalidArgumentError(UnknownVerb(verbs, words)));
}

}  // namespace gaitshelf::client
