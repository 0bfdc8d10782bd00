// The flags of gaitshelfd, from its command line and from a file.
#ifndef GAITSHELF_SERVICE_API_COMMAND_LINE_H_
#define GAITSHELF_SERVICE_API_COMMAND_LINE_H_

#include <cstdint>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "service/log/event.h"

namespace gaitshelf::service {

struct CommandLine {
  std::string library;  // path of a file or address of a database; see open_library.h
  std::vector<std::string> listen;
  std::string tls_folder;      // empty means that only this machine is served
  int worker_count = 0;        // 0 means one fewer than cores, at least 1
  std::string worker_program;  // empty means gaitshelf-worker beside gaitshelfd
  int library_wait_s = 600;    // for a database that is away at the start
  int queue_limit = 1000;
  int jobs_per_member = 0;  // open; 0 means half the queue limit
  int gait_memory_mb = 0;   // of gaits kept ready; 0 means an eighth of the machine's, 1024 at most
  int call_limit = 512;     // calls that work at a time
  int calls_per_member = 128;   // calls of one member under way
  std::string backup_folder;    // empty means no backups
  std::string metrics_address;  // empty means no metrics
  int least_disk_mb = 500;      // free, below which the server calls itself unwell
  bool uses_slurm = false;
  std::string slurm_partition;   // empty means the cluster's default
  int slurm_limit_min = 60;      // of one worker
  std::string slurm_log_folder;  // empty means that nothing is kept
  LogFormat log_format = LogFormat::kLogfmt;
  bool wants_help = false;
  bool wants_check = false;  // only to look whether all of this can work
};

// Text of --help.
const char* HelpText();

// Reads the arguments without the program's name. "--flag value" and "--flag=value" mean the same.
// --config names a file with a line "flag = value" each, without the dashes; what the command line
// gives goes before the file. Without --listen the socket is gaitshelf.sock in the runtime folder.
//
// Errors:
//   kInvalidArgument   every fault, a line each; those of the file with its name and line
absl::StatusOr<CommandLine> ParseCommandLine(const std::vector<std::string>& arguments,
                                             const std::string& runtime_folder);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_COMMAND_LINE_H_
