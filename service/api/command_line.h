// The flags of gaitshelfd.
#ifndef GAITSHELF_SERVICE_API_COMMAND_LINE_H_
#define GAITSHELF_SERVICE_API_COMMAND_LINE_H_

#include <string>
#include <vector>

#include "absl/status/statusor.h"

namespace gaitshelf::service {

struct CommandLine {
  std::string library;  // path of a file or address of a database; see open_library.h
  std::vector<std::string> listen;
  int worker_count = 0;        // 0 means one fewer than cores, at least 1
  std::string worker_program;  // empty means gaitshelf-worker beside gaitshelfd
  int queue_limit = 1000;
  std::string backup_folder;  // empty means no backups
  bool uses_slurm = false;
  std::string slurm_partition;   // empty means the cluster's default
  int slurm_limit_min = 60;      // of one worker
  std::string slurm_log_folder;  // empty means that nothing is kept
  bool wants_help = false;
};

// Text of --help.
const char* HelpText();

// Reads the arguments without the program's name. "--flag value" and "--flag=value" mean the same.
// Without --listen the socket is gaitshelf.sock in the given runtime folder.
//
// Errors:
//   kInvalidArgument   every fault, a line each
absl::StatusOr<CommandLine> ParseCommandLine(const std::vector<std::string>& arguments,
                                             const std::string& runtime_folder);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_COMMAND_LINE_H_
