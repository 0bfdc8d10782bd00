#include "service/library/sqlite_connection.h"

#include <cerrno>
#include <chrono>
#include <thread>
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/library/room.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

absl::StatusCode CodeOf(int result, int system_error) {
  switch (result & 0xff) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return absl::StatusCode::kUnavailable;
    case SQLITE_CORRUPT:
      return absl::StatusCode::kDataLoss;
    case SQLITE_NOTADB:
      return absl::StatusCode::kFailedPrecondition;
    case SQLITE_READONLY:
    case SQLITE_PERM:
    case SQLITE_AUTH:
      return absl::StatusCode::kPermissionDenied;
    case SQLITE_CANTOPEN:
      return system_error == EACCES || system_error == EPERM ? absl::StatusCode::kPermissionDenied
                                                             : absl::StatusCode::kNotFound;
    default:
      return absl::StatusCode::kInternal;
  }
}

// The errno of the last access that failed, of the file itself or of its write-ahead log. That of
// the whole process is another one by the time that SQLite has put everything back.
int ErrnoOf(sqlite3_file* file) {
  int error = 0;
  if (file != nullptr && file->pMethods != nullptr) {
    file->pMethods->xFileControl(file, SQLITE_FCNTL_LAST_ERRNO, &error);
  }
  return error;
}

// Tells whether a failure means that there was no room. SQLite has a code for a full disk, but none
// for a quota or a limit.
bool IsFailureForRoom(sqlite3* handle, int result) {
  if ((result & 0xff) == SQLITE_FULL || result == SQLITE_IOERR_SHMSIZE) {
    return true;
  }
  if ((result & 0xff) == SQLITE_CANTOPEN) {
    return IsNoRoom(sqlite3_system_errno(handle));
  }
  if ((result & 0xff) != SQLITE_IOERR) {
    return false;
  }
  sqlite3_file* file = nullptr;
  sqlite3_file* log = nullptr;
  sqlite3_file_control(handle, "main", SQLITE_FCNTL_FILE_POINTER, &file);
  sqlite3_file_control(handle, "main", SQLITE_FCNTL_JOURNAL_POINTER, &log);
  return IsNoRoom(ErrnoOf(file)) || IsNoRoom(ErrnoOf(log));
}

std::string SqliteMendFor(absl::StatusCode code, const std::string& path) {
  switch (code) {
    case absl::StatusCode::kResourceExhausted:
      return absl::StrCat("; ", FullDiskMend(FolderOf(path)));
    case absl::StatusCode::kUnavailable:
      return "; another process has held the library for too long: ask again";
    case absl::StatusCode::kDataLoss:
      return "; the file is damaged: keep it as it is and go back to a backup";
    case absl::StatusCode::kFailedPrecondition:
      return "; the file is not a library: name another one";
    case absl::StatusCode::kPermissionDenied:
      return "; allow writing to the file and to its folder";
    case absl::StatusCode::kNotFound:
      return "; make the folder first, or name another file";
    default:
      return "";
  }
}

// A change of the journal's mode that meets another one fails at once instead of waiting as other
// statements do, so that many who make a library at the same time would be turned away.
absl::Status TurnOnWriteAheadLog(SqliteConnection* connection, int busy_timeout_ms) {
  constexpr std::chrono::milliseconds kPause{5};
  const auto end = std::chrono::steady_clock::now() + std::chrono::milliseconds(busy_timeout_ms);
  absl::Status status = connection->Execute("PRAGMA journal_mode = WAL");
  while (absl::IsUnavailable(status) && std::chrono::steady_clock::now() < end) {
    std::this_thread::sleep_for(kPause);
    status = connection->Execute("PRAGMA journal_mode = WAL");
  }
  return status;
}

}  // namespace

SqliteStatement::~SqliteStatement() {
  sqlite3_reset(statement_);
  sqlite3_clear_bindings(statement_);
}

void SqliteStatement::KeepBindResult(int result) {
  if (bind_result_ == SQLITE_OK) {
    bind_result_ = result;
  }
}

void SqliteStatement::BindInteger(std::int64_t value) {
  KeepBindResult(sqlite3_bind_int64(statement_, ++bound_count_, value));
}

void SqliteStatement::BindReal(double value) {
  KeepBindResult(sqlite3_bind_double(statement_, ++bound_count_, value));
}

void SqliteStatement::BindText(absl::string_view value) {
  KeepBindResult(sqlite3_bind_text64(statement_,
                                     ++bound_count_,
                                     value.data() == nullptr ? "" : value.data(),
                                     value.size(),
                                     SQLITE_TRANSIENT,
                                     SQLITE_UTF8));
}

void SqliteStatement::BindBytes(absl::string_view value) {
  KeepBindResult(sqlite3_bind_blob64(statement_,
                                     ++bound_count_,
                                     value.data() == nullptr ? "" : value.data(),
                                     value.size(),
                                     SQLITE_TRANSIENT));
}

absl::StatusOr<bool> SqliteStatement::Step() {
  if (bind_result_ != SQLITE_OK) {
    return connection_->MakeStatus(bind_result_);
  }
  const int result = sqlite3_step(statement_);
  if (result == SQLITE_ROW) {
    return true;
  }
  if (result == SQLITE_DONE) {
    return false;
  }
  return connection_->MakeStatus(result);
}

absl::StatusOr<int> SqliteStatement::Run() {
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, Step());
  if (has_row) {
    return absl::InternalError("a statement gave a row where none was due");
  }
  return connection_->ChangeCount();
}

std::int64_t SqliteStatement::Integer(int column) const {
  return sqlite3_column_int64(statement_, column);
}

double SqliteStatement::Real(int column) const { return sqlite3_column_double(statement_, column); }

std::string SqliteStatement::Bytes(int column) const {
  // The pointer first: asking for the size first could convert the value behind it.
  const void* data = sqlite3_column_blob(statement_, column);
  const int size = sqlite3_column_bytes(statement_, column);
  if (data == nullptr || size <= 0) {
    return "";
  }
  return {static_cast<const char*>(data), static_cast<std::size_t>(size)};
}

bool SqliteStatement::IsNull(int column) const {
  return sqlite3_column_type(statement_, column) == SQLITE_NULL;
}

SqliteConnection::SqliteConnection(std::string path, sqlite3* handle)
    : path_(std::move(path)), handle_(handle) {}

SqliteConnection::~SqliteConnection() {
  for (const auto& [sql, statement] : prepared_) {
    sqlite3_finalize(statement);
  }
  sqlite3_close(handle_);
}

absl::StatusOr<std::unique_ptr<SqliteConnection>> SqliteConnection::Open(const std::string& path,
                                                                         int busy_timeout_ms) {
  sqlite3* handle = nullptr;
  const int result = sqlite3_open_v2(
      path.c_str(),
      &handle,
      SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE,
      nullptr);
  if (handle == nullptr) {
    return absl::ResourceExhaustedError("no memory for a connection to the library");
  }
  // Owned from here on, also when opening failed.
  std::unique_ptr<SqliteConnection> connection(new SqliteConnection(path, handle));
  if (result != SQLITE_OK) {
    return connection->MakeStatus(result);
  }
  sqlite3_busy_timeout(handle, busy_timeout_ms);
  GAITSHELF_RETURN_IF_ERROR(TurnOnWriteAheadLog(connection.get(), busy_timeout_ms));
  GAITSHELF_RETURN_IF_ERROR(
      connection->Execute("PRAGMA synchronous = FULL;"
                          "PRAGMA foreign_keys = ON;"
                          "PRAGMA trusted_schema = OFF;"));
  return connection;
}

absl::StatusOr<SqlStatement> SqliteConnection::Prepare(const std::string& sql) {
  const auto found = prepared_.find(sql);
  if (found != prepared_.end()) {
    return SqlStatement(std::make_unique<SqliteStatement>(this, found->second));
  }
  sqlite3_stmt* statement = nullptr;
  const int result = sqlite3_prepare_v3(handle_,
                                        sql.c_str(),
                                        static_cast<int>(sql.size()),
                                        SQLITE_PREPARE_PERSISTENT,
                                        &statement,
                                        nullptr);
  if (result != SQLITE_OK) {
    return MakeStatus(result);
  }
  prepared_.emplace(sql, statement);
  return SqlStatement(std::make_unique<SqliteStatement>(this, statement));
}

absl::Status SqliteConnection::Execute(const std::string& sql) {
  const int result = sqlite3_exec(handle_, sql.c_str(), nullptr, nullptr, nullptr);
  return result == SQLITE_OK ? absl::OkStatus() : MakeStatus(result);
}

absl::Status SqliteConnection::MakeStatus(int result) {
  const bool is_for_room = IsFailureForRoom(handle_, result);
  const absl::StatusCode code = is_for_room ? absl::StatusCode::kResourceExhausted
                                            : CodeOf(result, sqlite3_system_errno(handle_));
  found_no_room_ = found_no_room_ || is_for_room;
  return {
      code,
      absl::StrCat("library ", path_, ": ", sqlite3_errmsg(handle_), SqliteMendFor(code, path_))};
}

int SqliteConnection::ChangeCount() const { return sqlite3_changes(handle_); }

absl::StatusOr<SqliteTransaction> SqliteTransaction::Begin(SqliteConnection* connection) {
  // Immediate: taking the write lock later, after a read, could fail without waiting.
  GAITSHELF_RETURN_IF_ERROR(connection->Execute("BEGIN IMMEDIATE"));
  return SqliteTransaction(connection);
}

SqliteTransaction::SqliteTransaction(SqliteTransaction&& other) noexcept
    : connection_(std::exchange(other.connection_, nullptr)) {}

SqliteTransaction::~SqliteTransaction() {
  if (connection_ != nullptr) {
    // Fails only when SQLite has rolled back by itself already.
    connection_->Execute("ROLLBACK").IgnoreError();
  }
}

absl::Status SqliteTransaction::Commit() {
  GAITSHELF_RETURN_IF_ERROR(connection_->Execute("COMMIT"));
  connection_ = nullptr;
  return absl::OkStatus();
}

}  // namespace gaitshelf::service
