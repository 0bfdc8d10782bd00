// Writes a file whole or not at all.
#ifndef GAITSHELF_CLIENTS_CLI_OUTPUT_FILE_H_
#define GAITSHELF_CLIENTS_CLI_OUTPUT_FILE_H_

#include <fstream>
#include <string>

#include "absl/status/status.h"

namespace gaitshelf::client {

// A file that has its name only once it is finished; until then it is PATH.part.
class OutputFile {
 public:
  explicit OutputFile(std::string path);

  // Where to write. It fails quietly; Check and Finish tell.
  std::ostream& stream() { return stream_; }
  std::string part_path() const { return path_ + ".part"; }

  // Errors:
  //   kFailedPrecondition   the file cannot be written
  absl::Status Check() const;
  // Gives the file its name. Errors as Check.
  absl::Status Finish();
  // Removes what was written instead.
  void Abandon();

 private:
  std::string path_;
  std::ofstream stream_;
};

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_OUTPUT_FILE_H_
