// What the library's tables are reached through, whichever database holds them: prepared statements
// and connections. The statements of this folder are written once, in the SQL that SQLite reads;
// another driver translates (postgres_dialect.h). Knows no table.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQL_CONNECTION_H_
#define GAITSHELF_SERVICE_LIBRARY_SQL_CONNECTION_H_

#include <cstdint>
#include <memory>
#include <string>
#include <utility>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/string_view.h"

namespace gaitshelf::service {

// One use of a prepared statement. Parameters (?1, ?2, ...) are bound in order, from the first; a
// failure to bind is reported by the next Step or Run. Must not outlive its connection.
class SqlStatement {
 public:
  // What a database's driver does for it.
  class Driver {
   public:
    Driver() = default;
    Driver(const Driver&) = delete;
    Driver& operator=(const Driver&) = delete;
    virtual ~Driver() = default;

    virtual void BindInteger(std::int64_t value) = 0;
    virtual void BindReal(double value) = 0;
    virtual void BindText(absl::string_view value) = 0;
    virtual void BindBytes(absl::string_view value) = 0;
    virtual absl::StatusOr<bool> Step() = 0;
    virtual absl::StatusOr<int> Run() = 0;
    [[nodiscard]] virtual std::int64_t Integer(int column) const = 0;
    [[nodiscard]] virtual double Real(int column) const = 0;
    [[nodiscard]] virtual std::string Bytes(int column) const = 0;
    [[nodiscard]] virtual bool IsNull(int column) const = 0;
  };

  explicit SqlStatement(std::unique_ptr<Driver> driver) : driver_(std::move(driver)) {}

  SqlStatement& BindInteger(std::int64_t value) {
    driver_->BindInteger(value);
    return *this;
  }
  SqlStatement& BindReal(double value) {
    driver_->BindReal(value);
    return *this;
  }
  SqlStatement& BindText(absl::string_view value) {
    driver_->BindText(value);
    return *this;
  }
  SqlStatement& BindBytes(absl::string_view value) {
    driver_->BindBytes(value);
    return *this;
  }

  // Goes to the next row; false at the end.
  absl::StatusOr<bool> Step() { return driver_->Step(); }
  // Runs a statement that gives no rows and returns how many rows it changed.
  absl::StatusOr<int> Run() { return driver_->Run(); }

  // Columns of the present row, from 0. A truth value is an integer, 0 or 1.
  [[nodiscard]] std::int64_t Integer(int column) const { return driver_->Integer(column); }
  [[nodiscard]] double Real(int column) const { return driver_->Real(column); }
  // Text or bytes; empty for NULL.
  [[nodiscard]] std::string Bytes(int column) const { return driver_->Bytes(column); }
  [[nodiscard]] bool IsNull(int column) const { return driver_->IsNull(column); }

 private:
  std::unique_ptr<Driver> driver_;
};

// An open database. Not safe for use by two threads at a time.
class SqlConnection {
 public:
  SqlConnection() = default;
  SqlConnection(const SqlConnection&) = delete;
  SqlConnection& operator=(const SqlConnection&) = delete;
  virtual ~SqlConnection() = default;

  // Prepares a statement, or takes it from those prepared before. The same text must not be in use
  // twice at a time.
  virtual absl::StatusOr<SqlStatement> Prepare(const std::string& sql) = 0;
  // Runs statements that need no parameters and whose rows do not matter.
  virtual absl::Status Execute(const std::string& sql) = 0;
  // Returns the first integer that a query gives.
  absl::StatusOr<std::int64_t> QueryInteger(const std::string& sql);

  // End a SELECT that locks its rows until the end of the transaction; the second leaves out rows
  // that somebody else has locked. Empty where a write transaction has the database for itself.
  [[nodiscard]] virtual const char* row_lock() const { return ""; }
  [[nodiscard]] virtual const char* free_row_lock() const { return ""; }

  // Tells all processes that follow the library, once the transaction is committed, that the job or
  // gait of a name has changed. Does nothing where processes see for themselves.
  virtual absl::Status Announce(const std::string& /*name*/) { return absl::OkStatus(); }
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQL_CONNECTION_H_
