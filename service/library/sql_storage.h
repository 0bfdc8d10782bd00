// How a database's connections are shared by the threads of a process, and when work on them is a
// transaction. sqlite_library.cc and postgres_storage.h keep it.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQL_STORAGE_H_
#define GAITSHELF_SERVICE_LIBRARY_SQL_STORAGE_H_

#include <atomic>
#include <cstdint>
#include <optional>
#include <string>

#include "gaitshelf/v1/care_service.pb.h"

#include "absl/functional/function_ref.h"
#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/library/sql_connection.h"

namespace gaitshelf::service {

// What a write transaction has for itself.
enum class WriteScope {
  kLibrary,  // all writing: no other transaction of this scope runs, whichever process asks
  kRows,     // the rows that it reads with row_lock
};

// Work may be done more than once, when the connection was lost or another transaction was in the
// way: it must have no effect but on the database and on what it returns.
class SqlStorage {
 public:
  using Work = absl::FunctionRef<absl::Status(SqlConnection*)>;

  SqlStorage() = default;
  SqlStorage(const SqlStorage&) = delete;
  SqlStorage& operator=(const SqlStorage&) = delete;
  virtual ~SqlStorage() = default;

  // Each statement of a read sees what is committed by then.
  virtual absl::Status Read(Work work) = 0;
  // Commits when the work succeeds, else changes nothing.
  virtual absl::Status Write(WriteScope scope, Work work) = 0;
  // Checks the database's own structure.
  //
  // Errors:
  //   kDataLoss   what is damaged
  virtual absl::Status CheckStructure() = 0;
  // False while the database is known to be out of reach.
  [[nodiscard]] virtual bool is_reachable() { return true; }
  // True from a write that found no room on.
  [[nodiscard]] bool is_full() const { return is_full_; }
  void ForgetFull() { is_full_ = false; }
  // Returns a number that grows whenever the job or gait of a name has changed, and sometimes when
  // it has not; absent when only asking the database tells. What another machine has committed may
  // need a moment to be heard of, some milliseconds as a rule. Returns at once.
  virtual std::optional<std::uint64_t> News(const std::string& name) = 0;
  // See Library::BackUp.
  virtual absl::StatusOr<v1::BackUpResponse> BackUp(const std::string& path) = 0;

 protected:
  void NoteFull() { is_full_ = true; }

 private:
  std::atomic<bool> is_full_{false};
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQL_STORAGE_H_
