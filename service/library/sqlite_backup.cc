#include "service/library/sqlite_backup.h"

#include <cerrno>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <string>
#include <system_error>

#include <fcntl.h>
#include <unistd.h>

#include "absl/strings/str_cat.h"
#include "service/library/room.h"
#include "service/library/sqlite_connection.h"
#include "service/library/sqlite_library.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

absl::Status SystemFailure(const std::string& what) {
  const int error = errno;
  const std::string message = absl::StrCat(what, ": ", std::generic_category().message(error));
  return IsNoRoom(error) ? absl::ResourceExhaustedError(message)
                         : absl::FailedPreconditionError(message);
}

absl::Status SyncPath(const std::string& path) {
  const int descriptor = open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (descriptor < 0) {
    return SystemFailure(absl::StrCat("cannot open ", path));
  }
  const int result = fsync(descriptor);
  const absl::Status status =
      result == 0 ? absl::OkStatus() : SystemFailure(absl::StrCat("cannot sync ", path));
  close(descriptor);
  return status;
}

// Removes an unfinished copy and what SQLite keeps beside it.
void RemoveCopy(const std::string& path) {
  for (const char* suffix : {"", "-wal", "-shm"}) {
    std::remove(absl::StrCat(path, suffix).c_str());
  }
}

// Reads every row and every checksum of the copy.
absl::StatusOr<std::int64_t> CheckCopy(const std::string& path) {
  GAITSHELF_ASSIGN_OR_RETURN(const std::unique_ptr<Library> copy, OpenSqliteLibrary(path, {}));
  GAITSHELF_RETURN_IF_ERROR(copy->CheckIntegrity());
  GAITSHELF_ASSIGN_OR_RETURN(const LibraryCounts counts, copy->Count());
  return counts.gaits;
}

absl::StatusOr<v1::BackUpResponse> MakeCopy(const std::string& library,
                                            const std::string& unfinished,
                                            const std::string& path,
                                            int busy_timeout_ms) {
  {
    // A connection of its own: readers and writers of the library do not wait for the copying.
    GAITSHELF_ASSIGN_OR_RETURN(const std::unique_ptr<SqliteConnection> connection,
                               SqliteConnection::Open(library, busy_timeout_ms));
    GAITSHELF_ASSIGN_OR_RETURN(SqlStatement statement, connection->Prepare("VACUUM INTO ?1"));
    GAITSHELF_RETURN_IF_ERROR(statement.BindText(unfinished).Run().status());
  }
  v1::BackUpResponse response;
  GAITSHELF_ASSIGN_OR_RETURN(const std::int64_t gait_count, CheckCopy(unfinished));
  GAITSHELF_RETURN_IF_ERROR(SyncPath(unfinished));
  // Without replacing: link() refuses a name that is taken.
  if (link(unfinished.c_str(), path.c_str()) != 0) {
    return errno == EEXIST ? absl::AlreadyExistsError(
                                 absl::StrCat(path, " is there already; give another name"))
                           : SystemFailure(absl::StrCat("cannot name the copy ", path));
  }
  GAITSHELF_RETURN_IF_ERROR(SyncPath(std::filesystem::absolute(path).parent_path().string()));
  std::error_code error;
  response.set_size_bytes(static_cast<std::int64_t>(std::filesystem::file_size(path, error)));
  response.set_path(path);
  response.set_gait_count(gait_count);
  return response;
}

}  // namespace

absl::StatusOr<v1::BackUpResponse> BackUpSqliteFile(const std::string& library,
                                                    const std::string& path,
                                                    int busy_timeout_ms) {
  std::error_code error;
  if (std::filesystem::exists(path, error)) {
    return absl::AlreadyExistsError(absl::StrCat(path, " is there already; give another name"));
  }
  const std::string unfinished = absl::StrCat(path, ".", getpid(), ".part");
  RemoveCopy(unfinished);
  absl::StatusOr<v1::BackUpResponse> response =
      MakeCopy(library, unfinished, path, busy_timeout_ms);
  RemoveCopy(unfinished);
  if (absl::IsResourceExhausted(response.status())) {
    return absl::ResourceExhaustedError(
        absl::StrCat("no room for the copy ", path, "; ", FullDiskMend(FolderOf(path))));
  }
  return response;
}

}  // namespace gaitshelf::service
