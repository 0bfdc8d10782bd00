#include "service/api/check_setup.h"

#include <cerrno>
#include <filesystem>
#include <memory>
#include <system_error>
#include <vector>

#include <unistd.h>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/time/clock.h"
#include "service/access/certificate.h"
#include "service/access/member_list.h"
#include "service/api/address.h"
#include "service/library/open_library.h"
#include "service/library/room.h"

namespace gaitshelf::service {
namespace {

using Faults = std::vector<std::string>;

void CheckAccess(const std::string& flag,
                 const std::string& path,
                 int mode,
                 const std::string& mend,
                 Faults* faults) {
  if (access(path.c_str(), mode) != 0) {
    faults->push_back(absl::StrCat(
        "--", flag, ": ", path, ": ", std::generic_category().message(errno), "; ", mend));
  }
}

void CheckLibrary(const std::string& library, Faults* faults) {
  if (IsDatabaseAddress(library)) {
    return;
  }
  CheckAccess(
      "library", FolderOf(library), W_OK | X_OK, "give a folder that this user may write", faults);
  std::error_code error;
  if (std::filesystem::exists(library, error)) {
    CheckAccess("library", library, R_OK | W_OK, "this user must read and write it", faults);
    if (std::filesystem::is_directory(library, error)) {
      faults->push_back(absl::StrCat("--library: ", library, " is a folder; give a file in it"));
    }
  }
}

void AddStatus(const absl::Status& status, Faults* faults) {
  if (!status.ok()) {
    faults->push_back(absl::StrCat("--tls: ", status.message()));
  }
}

}  // namespace

std::string WorkerProgramOf(const CommandLine& line) {
  if (!line.worker_program.empty()) {
    return line.worker_program;
  }
  std::error_code error;
  const std::filesystem::path self = std::filesystem::read_symlink("/proc/self/exe", error);
  return (self.parent_path() / "gaitshelf-worker").string();
}

absl::Status CheckSetup(const CommandLine& line) {
  Faults faults;
  CheckLibrary(line.library, &faults);
  CheckAccess(
      "worker-program", WorkerProgramOf(line), X_OK, "give the path of gaitshelf-worker", &faults);
  for (const std::string& text : line.listen) {
    const absl::StatusOr<Address> address = ParseAddress(text);
    if (address.ok() && address->is_socket()) {
      CheckAccess("listen",
                  FolderOf(address->socket_path),
                  W_OK | X_OK,
                  "make it, for the server's user",
                  &faults);
    }
  }
  if (!line.backup_folder.empty()) {
    CheckAccess(
        "backups", line.backup_folder, W_OK | X_OK, "make it, for the server's user", &faults);
  }
  if (!line.tls_folder.empty()) {
    const TlsFiles files = FilesOf(line.tls_folder);
    AddStatus(CheckTlsFiles(files, absl::Now()), &faults);
    AddStatus(MemberList::Open(files.members, {}).status(), &faults);
  }
  if (faults.empty()) {
    return absl::OkStatus();
  }
  return absl::FailedPreconditionError(absl::StrJoin(faults, "\n"));
}

}  // namespace gaitshelf::service
