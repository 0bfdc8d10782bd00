#include "service/api/command_line.h"

#include <cstddef>
#include <functional>

#include "absl/status/status.h"
#include "absl/strings/match.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "service/api/address.h"
#include "service/library/open_library.h"

namespace gaitshelf::service {
namespace {

using Faults = std::vector<std::string>;

void ReadCount(const std::string& flag,
               const std::string& value,
               int least,
               int most,
               int* count,
               Faults* faults) {
  int read = 0;
  if (!absl::SimpleAtoi(value, &read) || read < least || read > most) {
    faults->push_back(
        absl::StrCat(flag, " is '", value, "'; give a whole number from ", least, " to ", most));
    return;
  }
  *count = read;
}

void ReadFlag(const std::string& flag,
              const std::string& value,
              CommandLine* line,
              Faults* faults) {
  if (value.empty()) {
    faults->push_back(absl::StrCat(flag, " has no value; see --help"));
  } else if (flag == "--library") {
    line->library = value;
  } else if (flag == "--listen") {
    line->listen.push_back(value);
    if (const absl::Status status = ParseAddress(value).status(); !status.ok()) {
      faults->push_back(absl::StrCat("--", status.message()));
    }
  } else if (flag == "--workers") {
    ReadCount(flag, value, 0, 256, &line->worker_count, faults);
  } else if (flag == "--worker-program") {
    line->worker_program = value;
  } else if (flag == "--dispatch") {
    line->uses_slurm = value == "slurm";
    if (value != "slurm" && value != "local") {
      faults->push_back(absl::StrCat(flag, " is '", value, "'; give local or slurm"));
    }
  } else if (flag == "--slurm-partition") {
    line->slurm_partition = value;
  } else if (flag == "--slurm-minutes") {
    ReadCount(flag, value, 2, 10000, &line->slurm_limit_min, faults);
  } else if (flag == "--slurm-log") {
    line->slurm_log_folder = value;
  } else if (flag == "--backups") {
    line->backup_folder = value;
  } else if (flag == "--queue-limit") {
    ReadCount(flag, value, 1, 1000000, &line->queue_limit, faults);
  }
}

bool IsKnown(const std::string& flag) {
  return flag == "--library" || flag == "--listen" || flag == "--workers" ||
         flag == "--worker-program" || flag == "--queue-limit" || flag == "--dispatch" ||
         flag == "--slurm-partition" || flag == "--slurm-minutes" || flag == "--slurm-log" ||
         flag == "--backups";
}

}  // namespace

const char* HelpText() {
  return "gaitshelfd: plans, keeps and serves gaits.\n"
         "\n"
         "usage: gaitshelfd --library PATH|ADDRESS [--listen ADDRESS]... [--workers N]\n"
         "                  [--worker-program PATH] [--queue-limit N] [--backups FOLDER]\n"
         "                  [--dispatch local|slurm] [--slurm-partition NAME]\n"
         "                  [--slurm-minutes N] [--slurm-log FOLDER]\n"
         "\n"
         "  --library PATH         file of the library; made when it is missing\n"
         "  --library ADDRESS      postgresql://USER@HOST/DATABASE: one that several servers\n"
         "                         share; see deploy/RUNBOOK.md\n"
         "  --listen ADDRESS       unix:PATH, 127.0.0.1:PORT, [::1]:PORT or localhost:PORT; port "
         "0\n"
         "                         takes a free one; may be given several times; default is the\n"
         "                         socket gaitshelf.sock in XDG_RUNTIME_DIR or /tmp\n"
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
         "  --backups FOLDER       where 'gaitshelf backup' puts its copies\n"
         "  --help                 shows this\n"
         "\n"
         "Listens on this machine only. SIGTERM or SIGINT stops it: streams are led to rest,\n"
         "running jobs go back to the queue with their checkpoints.\n"
         "\n"
         "A stream that drives hardware moves parts and puts 100 to 300 V on actuators, which "
         "stay\n"
         "charged after switching off. Follow your local codes and the makers' manuals, and leave\n"
         "the drive to trained persons.\n";
}

absl::StatusOr<CommandLine> ParseCommandLine(const std::vector<std::string>& arguments,
                                             const std::string& runtime_folder) {
  CommandLine line;
  Faults faults;
  for (std::size_t i = 0; i < arguments.size(); ++i) {
    const std::string& argument = arguments[i];
    const std::size_t equals = argument.find('=');
    const std::string flag = argument.substr(0, equals);
    if (flag == "--help" || flag == "-h") {
      line.wants_help = true;
      return line;
    }
    if (!IsKnown(flag)) {
      faults.push_back(absl::StrCat("'", flag, "' is not a flag of gaitshelfd; see --help"));
      continue;
    }
    std::string value;
    if (equals != std::string::npos) {
      value = argument.substr(equals + 1);
    } else if (i + 1 < arguments.size() && !absl::StartsWith(arguments[i + 1], "--")) {
      value = arguments[++i];
    }
    ReadFlag(flag, value, &line, &faults);
  }
  if (line.library.empty()) {
    faults.push_back(
        "--library is missing; give the path of the library's file or the address "
        "of its database");
  }
  if (line.uses_slurm && !line.library.empty() && !IsDatabaseAddress(line.library)) {
    faults.push_back(absl::StrCat("--dispatch is slurm and --library is the file '",
                                  line.library,
                                  "'; give the address of a database, which nodes can share"));
  }
  if (!faults.empty()) {
    return absl::InvalidArgumentError(absl::StrJoin(faults, "\n"));
  }
  if (line.listen.empty()) {
    line.listen.push_back(absl::StrCat("unix:", runtime_folder, "/gaitshelf.sock"));
  }
  return line;
}

}  // namespace gaitshelf::service
