#include "service/library/sqlite_library.h"

#include <memory>
#include <mutex>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/library/sql_schema.h"
#include "service/library/sql_store.h"
#include "service/library/sqlite_backup.h"
#include "service/library/sqlite_change_count.h"
#include "service/library/sqlite_connection.h"
#include "service/library/sqlite_readers.h"
#include "service/library/sqlite_schema.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// Readers do not wait for the writer, which waits for the disk.
class SqliteStorage final : public SqlStorage {
 public:
  SqliteStorage(std::unique_ptr<SqliteConnection> writer,
                std::unique_ptr<SqliteReaders> readers,
                int busy_timeout_ms)
      : busy_timeout_ms_(busy_timeout_ms),
        writer_(std::move(writer)),
        readers_(std::move(readers)),
        changes_(readers_->first()) {}

  absl::Status Read(Work work) override { return readers_->Read(work); }

  // The file has one writer at a time, whatever the scope.
  absl::Status Write(WriteScope /*scope*/, Work work) override {
    const std::lock_guard<std::mutex> lock(write_mutex_);
    const absl::Status status = DoWrite(work);
    if (writer_->TakeNoRoom() && !status.ok()) {
      NoteFull();
    }
    return status;
  }

  absl::Status CheckStructure() override;

  // News of anything are news of everything.
  std::optional<std::uint64_t> News(const std::string& /*name*/) override {
    return changes_.Read();
  }

  absl::StatusOr<v1::BackUpResponse> BackUp(const std::string& path) override {
    return BackUpSqliteFile(readers_->first()->path(), path, busy_timeout_ms_);
  }

 private:
  absl::Status DoWrite(Work work) {
    GAITSHELF_ASSIGN_OR_RETURN(SqliteTransaction transaction,
                               SqliteTransaction::Begin(writer_.get()));
    GAITSHELF_RETURN_IF_ERROR(work(writer_.get()));
    return transaction.Commit();
  }

  const int busy_timeout_ms_;
  std::mutex write_mutex_;
  std::unique_ptr<SqliteConnection> writer_;  // under write_mutex_
  const std::unique_ptr<SqliteReaders> readers_;
  SqliteChangeCount changes_;
};

absl::Status CheckStructureOf(SqlConnection* connection, const std::string& path) {
  GAITSHELF_ASSIGN_OR_RETURN(SqlStatement check, connection->Prepare("PRAGMA integrity_check"));
  std::string faults;
  GAITSHELF_ASSIGN_OR_RETURN(bool has_row, check.Step());
  while (has_row) {
    const std::string line = check.Bytes(0);
    if (line != "ok") {
      absl::StrAppend(&faults, faults.empty() ? "" : "; ", line);
    }
    GAITSHELF_ASSIGN_OR_RETURN(has_row, check.Step());
  }
  GAITSHELF_ASSIGN_OR_RETURN(SqlStatement keys, connection->Prepare("PRAGMA foreign_key_check"));
  GAITSHELF_ASSIGN_OR_RETURN(has_row, keys.Step());
  if (has_row) {
    absl::StrAppend(&faults, faults.empty() ? "" : "; ", "orphan row in ", keys.Bytes(0));
  }
  if (!faults.empty()) {
    return absl::DataLossError(absl::StrCat("library ", path, ": ", faults));
  }
  return absl::OkStatus();
}

absl::Status SqliteStorage::CheckStructure() {
  return Read([this](SqlConnection* connection) {
    return CheckStructureOf(connection, readers_->first()->path());
  });
}

}  // namespace

absl::StatusOr<std::unique_ptr<Library>> OpenSqliteLibrary(const std::string& path,
                                                           const SqliteLibraryOptions& options) {
  GAITSHELF_ASSIGN_OR_RETURN(std::unique_ptr<SqliteConnection> writer,
                             SqliteConnection::Open(path, options.busy_timeout_ms));
  GAITSHELF_RETURN_IF_ERROR(UpgradeSqliteSchema(writer.get(), LibrarySchemaSteps()));
  GAITSHELF_ASSIGN_OR_RETURN(std::unique_ptr<SqliteReaders> readers,
                             SqliteReaders::Open(path, options.busy_timeout_ms));
  return std::make_unique<SqlStore>(
      std::make_unique<SqliteStorage>(
          std::move(writer), std::move(readers), options.busy_timeout_ms),
      SqlStoreOptions{.queue_limit = options.queue_limit,
                      .jobs_per_member = options.jobs_per_member,
                      .crash_limit = options.crash_limit,
                      .gait_cache_bytes = options.gait_cache_bytes});
}

}  // namespace gaitshelf::service
