// Thin owners of SQLite's connection, prepared statement and transaction, with SQLite's result
// codes turned into absl::Status. Knows no table.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQLITE_CONNECTION_H_
#define GAITSHELF_SERVICE_LIBRARY_SQLITE_CONNECTION_H_

#include <cstdint>
#include <map>
#include <memory>
#include <string>

#include <sqlite3.h>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/string_view.h"

namespace gaitshelf::service {

class SqliteConnection;

// One use of a prepared statement. Parameters are bound in order, from the first; a failure to bind
// is reported by the next Step or Run. Must not outlive its connection.
class SqliteStatement {
 public:
  SqliteStatement(SqliteConnection* connection, sqlite3_stmt* statement)
      : connection_(connection), statement_(statement) {}
  SqliteStatement(SqliteStatement&& other) noexcept;
  SqliteStatement& operator=(SqliteStatement&&) = delete;
  SqliteStatement(const SqliteStatement&) = delete;
  SqliteStatement& operator=(const SqliteStatement&) = delete;
  ~SqliteStatement();

  SqliteStatement& BindInteger(std::int64_t value);
  SqliteStatement& BindReal(double value);
  SqliteStatement& BindText(absl::string_view value);
  SqliteStatement& BindBytes(absl::string_view value);

  // Goes to the next row; false at the end.
  absl::StatusOr<bool> Step();
  // Runs a statement that gives no rows and returns how many rows it changed.
  absl::StatusOr<int> Run();

  // Columns of the present row, from 0.
  [[nodiscard]] std::int64_t Integer(int column) const;
  [[nodiscard]] double Real(int column) const;
  // Text or bytes; empty for NULL.
  [[nodiscard]] std::string Bytes(int column) const;
  [[nodiscard]] bool IsNull(int column) const;

 private:
  void KeepBindResult(int result);

  SqliteConnection* connection_;
  sqlite3_stmt* statement_;
  int bound_count_ = 0;
  int bind_result_ = SQLITE_OK;
};

// An open database. Not safe for use by two threads at a time.
class SqliteConnection {
 public:
  SqliteConnection(const SqliteConnection&) = delete;
  SqliteConnection& operator=(const SqliteConnection&) = delete;
  ~SqliteConnection();

  // Opens or makes the file in WAL mode with full synchronisation and foreign keys on.
  static absl::StatusOr<std::unique_ptr<SqliteConnection>> Open(const std::string& path,
                                                                int busy_timeout_ms);

  // Prepares a statement, or takes it from those prepared before. The same text must not be in use
  // twice at a time.
  absl::StatusOr<SqliteStatement> Prepare(const std::string& sql);
  // Runs statements that need no parameters and whose rows do not matter.
  absl::Status Execute(const std::string& sql);
  // Returns the single integer that a query gives.
  absl::StatusOr<std::int64_t> QueryInteger(const std::string& sql);

  // Makes a status of a result code, with SQLite's words and the file's path.
  absl::Status MakeStatus(int result) const;
  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] std::int64_t LastInsertId() const;
  [[nodiscard]] int ChangeCount() const;

 private:
  SqliteConnection(std::string path, sqlite3* handle);

  std::string path_;
  sqlite3* handle_;
  std::map<std::string, sqlite3_stmt*> prepared_;
};

// A write transaction: rolled back unless committed.
class SqliteTransaction {
 public:
  static absl::StatusOr<SqliteTransaction> Begin(SqliteConnection* connection);
  SqliteTransaction(SqliteTransaction&& other) noexcept;
  SqliteTransaction& operator=(SqliteTransaction&&) = delete;
  SqliteTransaction(const SqliteTransaction&) = delete;
  SqliteTransaction& operator=(const SqliteTransaction&) = delete;
  ~SqliteTransaction();

  absl::Status Commit();

 private:
  explicit SqliteTransaction(SqliteConnection* connection) : connection_(connection) {}

  SqliteConnection* connection_;  // null once ended
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQLITE_CONNECTION_H_
