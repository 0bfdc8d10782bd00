#include "service/library/sqlite_readers.h"

#include <utility>

#include "solver/base/status_macros.h"

namespace gaitshelf::service {

SqliteReaders::SqliteReaders(std::string path, int busy_timeout_ms, int limit)
    : path_(std::move(path)), busy_timeout_ms_(busy_timeout_ms), places_(limit) {
  // What `first` looks at does not move when others come.
  all_.reserve(static_cast<std::size_t>(limit));
}

absl::StatusOr<std::unique_ptr<SqliteReaders>> SqliteReaders::Open(const std::string& path,
                                                                   int busy_timeout_ms,
                                                                   int limit) {
  std::unique_ptr<SqliteReaders> readers(new SqliteReaders(path, busy_timeout_ms, limit));
  GAITSHELF_ASSIGN_OR_RETURN(std::unique_ptr<SqliteConnection> first, readers->OpenOne());
  readers->idle_.push_back(first.get());
  readers->all_.push_back(std::move(first));
  --readers->places_;
  return readers;
}

absl::StatusOr<std::unique_ptr<SqliteConnection>> SqliteReaders::OpenOne() const {
  GAITSHELF_ASSIGN_OR_RETURN(std::unique_ptr<SqliteConnection> connection,
                             SqliteConnection::Open(path_, busy_timeout_ms_));
  GAITSHELF_RETURN_IF_ERROR(connection->Execute("PRAGMA query_only = ON"));
  return connection;
}

absl::Status SqliteReaders::Read(SqlStorage::Work work) {
  SqliteConnection* const connection = Take();
  absl::Status status = work(connection);
  GiveBack(connection);
  return status;
}

SqliteConnection* SqliteReaders::Take() {
  std::unique_lock<std::mutex> lock(mutex_);
  bool may_open = true;
  while (idle_.empty()) {
    if (!may_open || places_ == 0) {
      is_free_.wait(lock);
      continue;
    }
    --places_;
    lock.unlock();
    absl::StatusOr<std::unique_ptr<SqliteConnection>> opened = OpenOne();
    lock.lock();
    if (opened.ok()) {
      return all_.emplace_back(*std::move(opened)).get();
    }
    // Not now, perhaps for want of descriptors or memory: those that are there serve as well.
    ++places_;
    may_open = false;
  }
  SqliteConnection* const connection = idle_.back();
  idle_.pop_back();
  return connection;
}

void SqliteReaders::GiveBack(SqliteConnection* connection) {
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    idle_.push_back(connection);
  }
  is_free_.notify_one();
}

}  // namespace gaitshelf::service
