// Tells whether a library's file has changed, without asking it and without a lock: every commit,
// of whichever process, changes the head of the index of the write-ahead log, which all of them
// map.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQLITE_CHANGE_COUNT_H_
#define GAITSHELF_SERVICE_LIBRARY_SQLITE_CHANGE_COUNT_H_

#include <array>
#include <cstddef>
#include <cstdint>
#include <mutex>
#include <optional>

#include "service/library/sqlite_connection.h"

namespace gaitshelf::service {

class SqliteChangeCount {
 public:
  // The connection outlives this; nobody else may use it meanwhile.
  explicit SqliteChangeCount(SqliteConnection* connection);
  SqliteChangeCount(const SqliteChangeCount&) = delete;
  SqliteChangeCount& operator=(const SqliteChangeCount&) = delete;

  // Returns a number that has grown if something was committed since it was asked last; absent
  // while a commit is under way, or where the index cannot be seen. Takes some 50 ns, from any
  // thread.
  std::optional<std::uint64_t> Read();

 private:
  // One copy of the head, in words.
  static constexpr std::size_t kWords = 6;
  using Head = std::array<std::uint64_t, kWords>;

  const volatile std::uint64_t* const index_;  // null when it cannot be seen
  std::mutex mutex_;
  Head last_{};              // under mutex_
  std::uint64_t count_ = 0;  // under mutex_
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQLITE_CHANGE_COUNT_H_
