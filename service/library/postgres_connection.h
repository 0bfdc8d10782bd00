// The driver for PostgreSQL: a connection of libpq, its prepared statements and its transaction,
// with SQLSTATEs turned into absl::Status. Knows no table.
#ifndef GAITSHELF_SERVICE_LIBRARY_POSTGRES_CONNECTION_H_
#define GAITSHELF_SERVICE_LIBRARY_POSTGRES_CONNECTION_H_

#include <cstdint>
#include <map>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include <libpq-fe.h>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/string_view.h"
#include "service/library/sql_connection.h"

namespace gaitshelf::service {

// Channel on which processes tell each other which job or gait has changed.
inline constexpr char kNewsChannel[] = "gaitshelf_job";

// Checks an address postgresql://[USER@][HOST[:PORT]]/DATABASE[?KEY=VALUE&...].
//
// Errors:
//   kInvalidArgument   it cannot be read, or it holds a password, which must not stand where the
//                      list of processes shows it
absl::Status CheckPostgresAddress(const std::string& address);

struct PostgresResultFree {
  void operator()(PGresult* result) const { PQclear(result); }
};
using PostgresResult = std::unique_ptr<PGresult, PostgresResultFree>;

class PostgresConnection;

// One use of a statement. All rows are fetched by the first Step.
class PostgresStatement final : public SqlStatement::Driver {
 public:
  PostgresStatement(PostgresConnection* connection, std::string sql)
      : connection_(connection), sql_(std::move(sql)) {}

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
  absl::Status Execute();

  PostgresConnection* connection_;
  std::string sql_;  // in PostgreSQL's words
  std::vector<Oid> types_;
  std::vector<std::string> values_;  // in libpq's binary form
  PostgresResult result_;            // null before the first Step
  int row_ = -1;
};

// The row in which a connection leaves marks of what it has changed (postgres_writer.h).
struct PostgresWriter {
  std::string name{};  // empty before the first change
  std::int64_t number = 0;
};

class PostgresConnection final : public SqlConnection {
 public:
  ~PostgresConnection() override;

  // Connects. What is committed over it is on the disk; a wait for a lock ends after the given
  // time.
  //
  // Errors:
  //   kUnavailable          nobody answers, or not yet
  //   kPermissionDenied     the database refuses the user
  //   kFailedPrecondition   the database does not exist
  static absl::StatusOr<std::unique_ptr<PostgresConnection>> Open(const std::string& address,
                                                                  int lock_timeout_ms);

  absl::StatusOr<SqlStatement> Prepare(const std::string& sql) override;
  absl::Status Execute(const std::string& sql) override;
  // Ends a transaction. Fails when one of its statements had failed, so that nothing is stored.
  absl::Status Commit();
  [[nodiscard]] const char* row_lock() const override { return " FOR UPDATE"; }
  [[nodiscard]] const char* free_row_lock() const override { return " FOR UPDATE SKIP LOCKED"; }
  absl::Status Announce(const std::string& name) override;

  // True once the database is gone; nothing more can be done with the connection then.
  [[nodiscard]] bool is_lost() const { return is_lost_; }
  // True when the last failure was a clash with another transaction: the whole may be tried again.
  [[nodiscard]] bool is_clash() const { return is_clash_; }
  // Tells whether a statement found no room on the database's disk since this was asked last.
  bool TakeNoRoom() { return std::exchange(found_no_room_, false); }
  [[nodiscard]] PGconn* handle() { return handle_; }
  PostgresWriter& writer() { return writer_; }
  // Host and database, for messages.
  [[nodiscard]] const std::string& place() const { return place_; }

  // Returns the name of the prepared statement, which is made at its first use.
  absl::StatusOr<std::string> PreparedName(const std::string& sql, const std::vector<Oid>& types);
  // Makes a status of a failed result, which may be null.
  absl::Status MakeStatus(const PGresult* result);

 private:
  explicit PostgresConnection(PGconn* handle);

  PGconn* handle_;
  std::string place_;
  bool is_lost_ = false;
  bool is_clash_ = false;
  bool found_no_room_ = false;
  PostgresWriter writer_;
  std::map<std::string, std::string> prepared_;  // name by text and types
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_POSTGRES_CONNECTION_H_
