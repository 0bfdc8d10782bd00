// The driver for SQLite: thin owners of its connection, prepared statement and transaction, with
// its result codes turned into absl::Status. Knows no table.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQLITE_CONNECTION_H_
#define GAITSHELF_SERVICE_LIBRARY_SQLITE_CONNECTION_H_

#include <cstdint>
#include <map>
#include <memory>
#include <string>
#include <utility>

#include <sqlite3.h>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/string_view.h"
#include "service/library/sql_connection.h"

namespace gaitshelf::service {

class SqliteConnection;

// One use of a prepared statement.
class SqliteStatement final : public SqlStatement::Driver {
 public:
  SqliteStatement(SqliteConnection* connection, sqlite3_stmt* statement)
      : connection_(connection), statement_(statement) {}
  ~SqliteStatement() override;

  void BindInteger(std::int64_t value) override;
  void BindReal(double value) override;
  void BindText(absl::string_view value) override;
  void BindBytes(absl::string_view value) override;
  absl::StatusOr<bool> Step() override;
  absl::StatusOr<int> Run() override;
  [[nodiscard]] std::int64_t Integer(int column) const override;
  [[nodiscard]] double Real(int column) const override;
  [[nodiscard]] std::string Bytes(int column) const override;
  [[nodiscard]] bool IsNull(int column) const override;

 private:
  void KeepBindResult(int result);

  SqliteConnection* connection_;
  sqlite3_stmt* statement_;
  int bound_count_ = 0;
  int bind_result_ = SQLITE_OK;
};

// An open file.
class SqliteConnection final : public SqlConnection {
 public:
  ~SqliteConnection() override;

  // Opens or makes the file in WAL mode with full synchronisation and foreign keys on.
  static absl::StatusOr<std::unique_ptr<SqliteConnection>> Open(const std::string& path,
                                                                int busy_timeout_ms);

  absl::StatusOr<SqlStatement> Prepare(const std::string& sql) override;
  absl::Status Execute(const std::string& sql) override;

  // Makes a status of a result code, with SQLite's words and the file's path.
  absl::Status MakeStatus(int result);
  // Tells whether a statement found no room since this was asked last.
  bool TakeNoRoom() { return std::exchange(found_no_room_, false); }
  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] int ChangeCount() const;
  [[nodiscard]] sqlite3* handle() { return handle_; }

 private:
  SqliteConnection(std::string path, sqlite3* handle);

  std::string path_;
  sqlite3* handle_;
  bool found_no_room_ = false;
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
