#include "service/library/sqlite_change_count.h"

#include <sqlite3.h>

namespace gaitshelf::service {
namespace {

// The index is mapped in regions of this size (https://www.sqlite.org/walformat.html, section 2).
constexpr int kRegionBytes = 32768;

const volatile std::uint64_t* FindIndex(SqliteConnection* connection) {
  // The first question makes SQLite map the index, for as long as the connection is open.
  connection->QueryInteger("PRAGMA user_version").status().IgnoreError();
  sqlite3_file* file = nullptr;
  sqlite3_file_control(connection->handle(), "main", SQLITE_FCNTL_FILE_POINTER, &file);
  if (file == nullptr || file->pMethods == nullptr || file->pMethods->iVersion < 2) {
    return nullptr;
  }
  volatile void* region = nullptr;
  const int result = file->pMethods->xShmMap(file, /*iPg=*/0, kRegionBytes, /*bExtend=*/0, &region);
  return result == SQLITE_OK ? static_cast<const volatile std::uint64_t*>(region) : nullptr;
}

}  // namespace

SqliteChangeCount::SqliteChangeCount(SqliteConnection* connection)
    : index_(FindIndex(connection)) {}

std::optional<std::uint64_t> SqliteChangeCount::Read() {
  if (index_ == nullptr) {
    return std::nullopt;
  }
  // The index begins with two copies of its head, 48 bytes each, with a counter of transactions and
  // a sum over the log in them. A commit writes the second copy first: what is equal is whole.
  Head first{};
  const std::lock_guard<std::mutex> lock(mutex_);
  for (std::size_t i = 0; i < kWords; ++i) {
    // Acquired: what is read of the second copy below is not older. (A fence of its own would say
    // the same, but the thread sanitizer knows none.)
    first[i] = __atomic_load_n(&index_[i], __ATOMIC_ACQUIRE);
  }
  for (std::size_t i = 0; i < kWords; ++i) {
    if (index_[kWords + i] != first[i]) {
      return std::nullopt;
    }
  }
  if (first != last_) {
    last_ = first;
    ++count_;
  }
  return count_;
}

}  // namespace gaitshelf::service
