// The connections on which a process reads a library's file. A read that must wait for the disk or
// for its turn on a core holds up no other: each has a connection to itself.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQLITE_READERS_H_
#define GAITSHELF_SERVICE_LIBRARY_SQLITE_READERS_H_

#include <condition_variable>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "service/library/sql_storage.h"
#include "service/library/sqlite_connection.h"

namespace gaitshelf::service {

// Members may be called from any thread.
class SqliteReaders {
 public:
  // Opens the first connection; others follow when there are as many reads at a time, up to the
  // limit. They stay open, with their statements and pages. Errors are those of
  // SqliteConnection::Open, for the first; others that cannot be opened are gone without.
  static absl::StatusOr<std::unique_ptr<SqliteReaders>> Open(const std::string& path,
                                                             int busy_timeout_ms,
                                                             int limit = 8);

  // Does the work on a connection that nobody else uses meanwhile, and waits for one where all are
  // taken.
  absl::Status Read(SqlStorage::Work work);

  // Stays open as long as this; for its file only.
  [[nodiscard]] SqliteConnection* first() const { return all_.front().get(); }

 private:
  SqliteReaders(std::string path, int busy_timeout_ms, int limit);

  absl::StatusOr<std::unique_ptr<SqliteConnection>> OpenOne() const;
  SqliteConnection* Take();
  void GiveBack(SqliteConnection* connection);

  const std::string path_;
  const int busy_timeout_ms_;
  std::mutex mutex_;
  std::condition_variable is_free_;
  int places_;                                          // to be opened yet; under mutex_
  std::vector<std::unique_ptr<SqliteConnection>> all_;  // under mutex_, but for the first
  std::vector<SqliteConnection*> idle_;                 // under mutex_; last used last
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQLITE_READERS_H_
