#include "service/api/command_line.h"

#include <cerrno>
#include <cstddef>
#include <fstream>
#include <optional>
#include <set>
#include <system_error>
#include <utility>

#include "absl/status/status.h"
#include "absl/strings/ascii.h"
#include "absl/strings/match.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/strip.h"
#include "service/api/address.h"
#include "service/library/open_library.h"

namespace gaitshelf::service {
namespace {

using Faults = std::vector<std::string>;

// One flag as it was given.
struct Given {
  std::string place;  // "--" or "FILE:LINE: ", before what is said of it
  std::string name;
  std::string value;
};

void ReadCount(const Given& given, int least, int most, int* count, Faults* faults) {
  int read = 0;
  if (!absl::SimpleAtoi(given.value, &read) || read < least || read > most) {
    faults->push_back(absl::StrCat(given.place,
                                   given.name,
                                   " is '",
                                   given.value,
                                   "'; give a whole number from ",
                                   least,
                                   " to ",
                                   most));
    return;
  }
  *count = read;
}

void ReadDispatch(const Given& given, CommandLine* line, Faults* faults) {
  line->uses_slurm = given.value == "slurm";
  if (given.value != "slurm" && given.value != "local") {
    faults->push_back(
        absl::StrCat(given.place, given.name, " is '", given.value, "'; give local or slurm"));
  }
}

void ReadLogFormat(const Given& given, CommandLine* line, Faults* faults) {
  const std::optional<LogFormat> format = ParseLogFormat(given.value);
  if (!format.has_value()) {
    faults->push_back(
        absl::StrCat(given.place, given.name, " is '", given.value, "'; give logfmt or json"));
  }
  line->log_format = format.value_or(line->log_format);
}

struct TextFlag {
  const char* name;
  std::string CommandLine::*value;
};

struct CountFlag {
  const char* name;
  int CommandLine::*value;
  int least;
  int most;
};

constexpr TextFlag kTextFlags[] = {{"library", &CommandLine::library},
                                   {"tls", &CommandLine::tls_folder},
                                   {"worker-program", &CommandLine::worker_program},
                                   {"slurm-partition", &CommandLine::slurm_partition},
                                   {"slurm-log", &CommandLine::slurm_log_folder},
                                   {"metrics", &CommandLine::metrics_address},
                                   {"backups", &CommandLine::backup_folder}};

constexpr CountFlag kCountFlags[] = {
    {"workers", &CommandLine::worker_count, 0, 256},
    {"library-wait-s", &CommandLine::library_wait_s, 0, 86400},
    {"queue-limit", &CommandLine::queue_limit, 1, 1000000},
    {"jobs-per-member", &CommandLine::jobs_per_member, 1, 1000000},
    {"gait-memory-mb", &CommandLine::gait_memory_mb, 1, 1000000},
    {"calls", &CommandLine::call_limit, 16, 10000},
    {"calls-per-member", &CommandLine::calls_per_member, 1, 10000},
    {"least-disk-mb", &CommandLine::least_disk_mb, 0, 1000000000},
    {"slurm-minutes", &CommandLine::slurm_limit_min, 2, 10000},
};

void ReadFlag(const Given& given, CommandLine* line, Faults* faults) {
  if (given.value.empty()) {
    faults->push_back(absl::StrCat(given.place, given.name, " has no value; see --help"));
    return;
  }
  for (const TextFlag& flag : kTextFlags) {
    if (given.name == flag.name) {
      line->*flag.value = given.value;
      return;
    }
  }
  for (const CountFlag& flag : kCountFlags) {
    if (given.name == flag.name) {
      ReadCount(given, flag.least, flag.most, &(line->*flag.value), faults);
      return;
    }
  }
  if (given.name == "listen") {
    line->listen.push_back(given.value);
  } else if (given.name == "dispatch") {
    ReadDispatch(given, line, faults);
  } else if (given.name == "log-format") {
    ReadLogFormat(given, line, faults);
  }
}

bool IsKnown(const std::string& name) {
  for (const TextFlag& flag : kTextFlags) {
    if (name == flag.name) {
      return true;
    }
  }
  for (const CountFlag& flag : kCountFlags) {
    if (name == flag.name) {
      return true;
    }
  }
  return name == "listen" || name == "dispatch" || name == "log-format";
}

// Gathers the lines of a file; flags that are given already are left out, and their repetitions in
// the file are not.
std::vector<Given> ReadConfig(const std::string& path,
                              const std::set<std::string>& given_already,
                              Faults* faults) {
  std::vector<Given> all;
  std::ifstream file(path);
  if (!file) {
    faults->push_back(
        absl::StrCat("--config: cannot read ", path, ": ", std::generic_category().message(errno)));
    return all;
  }
  std::string text;
  for (int number = 1; std::getline(file, text); ++number) {
    const absl::string_view line =
        absl::StripAsciiWhitespace(absl::string_view(text).substr(0, text.find('#')));
    if (line.empty()) {
      continue;
    }
    const std::size_t equals = line.find('=');
    Given given;
    given.place = absl::StrCat(path, ":", number, ": ");
    given.name = std::string(absl::StripAsciiWhitespace(line.substr(0, equals)));
    if (equals == absl::string_view::npos) {
      faults->push_back(absl::StrCat(given.place, "'", line, "' is no line 'flag = value'"));
      continue;
    }
    given.value = std::string(absl::StripAsciiWhitespace(line.substr(equals + 1)));
    if (!IsKnown(given.name)) {
      faults->push_back(
          absl::StrCat(given.place, "'", given.name, "' is not a flag of gaitshelfd"));
    } else if (given_already.count(given.name) == 0) {
      all.push_back(std::move(given));
    }
  }
  return all;
}

// What goes together with what.
void CheckTogether(const CommandLine& line, Faults* faults) {
  for (const std::string& address : line.listen) {
    const absl::Status status = ParseListenAddress(address, !line.tls_folder.empty()).status();
    if (!status.ok()) {
      faults->push_back(absl::StrCat("--", status.message()));
    }
  }
  if (!line.metrics_address.empty()) {
    const absl::StatusOr<Address> address = ParseAddress(line.metrics_address);
    if (!address.ok() || address->is_network() || address->is_socket()) {
      faults->push_back(absl::StrCat("--metrics is '",
                                     line.metrics_address,
                                     "'; give 127.0.0.1:PORT: nobody proves there who he is"));
    }
  }
  if (line.library.empty()) {
    faults->push_back(
        "--library is missing; give the path of the library's file or the address "
        "of its database");
  }
  if (line.uses_slurm && !line.library.empty() && !IsDatabaseAddress(line.library)) {
    faults->push_back(absl::StrCat("--dispatch is slurm and --library is the file '",
                                   line.library,
                                   "'; give the address of a database, which nodes can share"));
  }
}

struct GivenFlags {
  std::vector<Given> all;
  std::set<std::string> names;
  std::string config;  // path; empty for none
};

// Splits arguments into flags and values. What follows a --help does not matter.
GivenFlags SplitArguments(const std::vector<std::string>& arguments,
                          CommandLine* line,
                          Faults* faults) {
  GivenFlags given;
  for (std::size_t i = 0; i < arguments.size(); ++i) {
    const std::string& argument = arguments[i];
    const std::size_t equals = argument.find('=');
    const std::string flag = argument.substr(0, equals);
    if (flag == "--help" || flag == "-h") {
      line->wants_help = true;
      return given;
    }
    if (argument == "--check") {
      line->wants_check = true;
      continue;
    }
    const std::string name(absl::StripPrefix(flag, "--"));
    if (!absl::StartsWith(flag, "--") || (!IsKnown(name) && name != "config")) {
      faults->push_back(absl::StrCat("'", flag, "' is not a flag of gaitshelfd; see --help"));
      continue;
    }
    std::string value;
    if (equals != std::string::npos) {
      value = argument.substr(equals + 1);
    } else if (i + 1 < arguments.size() && !absl::StartsWith(arguments[i + 1], "--")) {
      value = arguments[++i];
    }
    if (name == "config") {
      given.config = value;
    } else {
      given.names.insert(name);
      given.all.push_back({.place = "--", .name = name, .value = value});
    }
  }
  return given;
}

constexpr char kHelpText[] =
    "gaitshelfd: plans, keeps and serves gaits.\n"
    "\n"
    "usage: gaitshelfd --library PATH|ADDRESS [--listen ADDRESS]... [--tls FOLDER]\n"
    "                  [--config FILE] [--check] [--library-wait-s N]\n"
    "                  [--workers N] [--worker-program PATH]\n"
    "                  [--queue-limit N] [--jobs-per-member N] [--calls N]\n"
    "                  [--calls-per-member N] [--backups FOLDER] [--metrics ADDRESS]\n"
    "                  [--least-disk-mb N] [--gait-memory-mb N] [--dispatch local|slurm]\n"
    "                  [--slurm-partition NAME] [--slurm-minutes N] [--slurm-log FOLDER]\n"
    "                  [--log-format logfmt|json]\n"
    "\n"
    "  --library PATH         file of the library; made when it is missing\n"
    "  --library ADDRESS      postgresql://USER@HOST/DATABASE: one that several servers\n"
    "                         share; see deploy/RUNBOOK.md\n"
    "  --library-wait-s N     how long a database that is away at the start is waited for;\n"
    "                         default 600\n"
    "  --listen ADDRESS       unix:PATH, 127.0.0.1:PORT, [::1]:PORT or localhost:PORT; port "
    "0\n"
    "                         takes a free one; may be given several times; default is the\n"
    "                         socket gaitshelf.sock in XDG_RUNTIME_DIR or /tmp\n"
    "  --tls FOLDER           every TCP port takes mutual TLS, and may then be one that "
    "others\n"
    "                         reach: 0.0.0.0:PORT; the folder has server.pem, server.key,\n"
    "                         ca.pem and members; deploy/lab-ca makes it\n"
    "  --workers N            jobs solved at a time; default is one fewer than cores\n"
    "  --dispatch slurm       solves on a Slurm cluster, at most N jobs (100) at a time; "
    "needs a\n"
    "                         library in a database, and the worker program at the same path\n"
    "                         on every node; see deploy/RUNBOOK.md\n"
    "  --slurm-partition NAME default is the cluster's own\n"
    "  --slurm-minutes N      limit of one worker; a longer solve goes on in the next; "
    "default 60\n"
    "  --slurm-log FOLDER     where nodes put what workers print; default is nowhere\n"
    "  --worker-program PATH  default is gaitshelf-worker beside this program\n"
    "  --queue-limit N        most jobs that may be open; default 1000\n"
    "  --jobs-per-member N    most of them of one member; default is half of --queue-limit\n"
    "  --calls N              calls that work at a time, in all; default 512\n"
    "  --calls-per-member N   calls of one member under way, over TLS; default 128\n"
    "  --backups FOLDER       where 'gaitshelf backup' puts its copies\n"
    "  --metrics ADDRESS      serves Prometheus at http://ADDRESS/metrics, on this machine "
    "only\n"
    "  --least-disk-mb N      free space below which the server calls itself unwell; default "
    "500\n"
    "  --gait-memory-mb N     most memory for gaits that are kept ready to be sent; default "
    "an\n"
    "                         eighth of the machine's, 1024 at most\n"
    "  --log-format FORMAT    of the lines on standard error: logfmt, words key=value, or "
    "json,\n"
    "                         one object a line; default logfmt\n"
    "  --config FILE          flags from a file: lines 'workers = 2'; the command line goes "
    "first\n"
    "  --check                looks whether all of this can work, says what cannot, and ends\n"
    "  --help                 shows this\n"
    "\n"
    "Without --tls it listens on this machine only. SIGTERM or SIGINT stops it: streams are "
    "led\n"
    "to rest, running jobs go back to the queue with their checkpoints.\n"
    "\n"
    "A stream that drives hardware moves parts and puts 100 to 300 V on actuators, which "
    "stay\n"
    "charged after switching off. Follow your local codes and the makers' manuals, and leave\n"
    "the drive to trained persons.\n";

}  // namespace

const char* HelpText() { return kHelpText; }

absl::StatusOr<CommandLine> ParseCommandLine(const std::vector<std::string>& arguments,
                                             const std::string& runtime_folder) {
  CommandLine line;
  Faults faults;
  GivenFlags given = SplitArguments(arguments, &line, &faults);
  if (line.wants_help) {
    return line;
  }
  if (!given.config.empty()) {
    const std::vector<Given> more = ReadConfig(given.config, given.names, &faults);
    given.all.insert(given.all.end(), more.begin(), more.end());
  }
  for (const Given& flag : given.all) {
    ReadFlag(flag, &line, &faults);
  }
  CheckTogether(line, &faults);
  if (!faults.empty()) {
    return absl::InvalidArgumentError(absl::StrJoin(faults, "\n"));
  }
  if (line.listen.empty()) {
    line.listen.push_back(absl::StrCat("unix:", runtime_folder, "/gaitshelf.sock"));
  }
  return line;
}

}  // namespace gaitshelf::service
