#include "service/library/sqlite_library.h"

#include <mutex>
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/library/sql_schema.h"
#include "service/library/sql_store.h"
#include "service/library/sqlite_backup.h"
#include "service/library/sqlite_change_count.h"
#include "service/library/sqlite_connection.h"
#include "service/library/sqlite_schema.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// Two connections: readers do not wait for a writer that waits for the disk. Each is used under its
// own mutex; nothing holds both.
class SqliteStorage final : public SqlStorage {
 public:
  SqliteStorage(std::unique_ptr<SqliteConnection> writer,
                std::unique_ptr<SqliteConnection> reader,
                int busy_timeout_ms)
      : busy_timeout_ms_(busy_timeout_ms),
        writer_(std::move(writer)),
        reader_(std::move(reader)),
        changes_(reader_.get()) {}

  absl::Status Read(Work work) override {
    const std::lock_guard<std::mutex> lock(read_mutex_);
    return work(reader_.get());
  }

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
    return BackUpSqliteFile(reader_->path(), path, busy_timeout_ms_);
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
  std::mutex read_mutex_;
  std::unique_ptr<SqliteConnection> reader_;  // under read_mutex_
  SqliteChangeCount changes_;
};

absl::Status SqliteStorage::CheckStructure() {
  const std::lock_guard<std::mutex> lock(read_mutex_);
  GAITSHELF_ASSIGN_OR_RETURN(SqlStatement check, reader_->Prepare("PRAGMA integrity_check"));
  std::string faults;
  GAITSHELF_ASSIGN_OR_RETURN(bool has_row, check.Step());
  while (has_row) {
    const std::string line = check.Bytes(0);
    if (line != "ok") {
      absl::StrAppend(&faults, faults.empty() ? "" : "; ", line);
    }
    GAITSHELF_ASSIGN_OR_RETURN(has_row, check.Step());
  }
  GAITSHELF_ASSIGN_OR_RETURN(SqlStatement keys, reader_->Prepare("PRAGMA foreign_key_check"));
  GAITSHELF_ASSIGN_OR_RETURN(has_row, keys.Step());
  if (has_row) {
    absl::StrAppend(&faults, faults.empty() ? "" : "; ", "orphan row in ", keys.Bytes(0));
  }
  if (!faults.empty()) {
    return absl::DataLossError(absl::StrCat("library ", reader_->path(), ": ", faults));
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<std::unique_ptr<Library>> OpenSqliteLibrary(const std::string& path,
                                                           const SqliteLibraryOptions& options) {
  GAITSHELF_ASSIGN_OR_RETURN(std::unique_ptr<SqliteConnection> writer,
                             SqliteConnection::Open(path, options.busy_timeout_ms));
  GAITSHELF_RETURN_IF_ERROR(UpgradeSqliteSchema(writer.get(), LibrarySchemaSteps()));
  GAITSHELF_ASSIGN_OR_RETURN(std::unique_ptr<SqliteConnection> reader,
                             SqliteConnection::Open(path, options.busy_timeout_ms));
  GAITSHELF_RETURN_IF_ERROR(reader->Execute("PRAGMA query_only = ON"));
  return std::make_unique<SqlStore>(
      std::make_unique<SqliteStorage>(
          std::move(writer), std::move(reader), options.busy_timeout_ms),
      SqlStoreOptions{.queue_limit = options.queue_limit,
                      .jobs_per_member = options.jobs_per_member,
                      .crash_limit = options.crash_limit,
                      .gait_cache_bytes = options.gait_cache_bytes});
}

}  // namespace gaitshelf::service
