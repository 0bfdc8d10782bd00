// Shares a few connections to a PostgreSQL database among the threads of a process. A connection
// that is lost is made again, with growing pauses; work that met the loss is done again.
#ifndef GAITSHELF_SERVICE_LIBRARY_POSTGRES_STORAGE_H_
#define GAITSHELF_SERVICE_LIBRARY_POSTGRES_STORAGE_H_

#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "service/library/postgres_connection.h"
#include "service/library/postgres_listener.h"
#include "service/library/sql_storage.h"
#include "service/log/event.h"

namespace gaitshelf::service {

struct PostgresStorageOptions {
  int connection_limit = 8;  // at a time, without the listener's
  double patience_s = 5;     // how long a loss is waited out, from its beginning
  // The same while the library is opened, unless 0: a machine that starts may have its server
  // before its database.
  double opening_patience_s = 0;
  std::function<bool()> is_given_up{};  // ends the wait at the opening; may be absent
  EventLog log{};                       // may be absent
};

class PostgresStorage final : public SqlStorage {
 public:
  PostgresStorage(std::string address, PostgresStorageOptions options);

  // See postgres_schema.h.
  absl::Status UpgradeSchema(const std::vector<std::string>& steps);
  absl::Status Read(Work work) override;
  absl::Status Write(WriteScope scope, Work work) override;
  absl::Status CheckStructure() override;
  absl::StatusOr<v1::BackUpResponse> BackUp(const std::string& path) override;
  [[nodiscard]] bool is_reachable() override;
  std::optional<std::uint64_t> News(const std::string& name) override;

 private:
  using Clock = std::chrono::steady_clock;
  using Handle = std::unique_ptr<PostgresConnection>;

  // What came of one try.
  struct Try {
    absl::Status status;
    bool may_repeat = false;  // the connection was lost or another transaction was in the way
    // What the transaction left that was being committed when the connection was lost: only the
    // database knows whether it was.
    std::optional<PostgresWriter> open_mark{};
  };

  // How long a loss is waited out, and what ends the wait before.
  struct Patience {
    double duration_s = 0;
    std::function<bool()> is_given_up{};  // may be absent
  };

  // Does work until it is done or the loss has lasted too long; `once` takes a PostgresConnection*
  // and gives a Try.
  template <typename Once>
  absl::Status Repeat(const Once& once, const Patience& patience);
  template <typename Once>
  absl::Status Repeat(const Once& once) {
    return Repeat(once, {.duration_s = options_.patience_s});
  }
  static Try WriteOnce(PostgresConnection* connection, WriteScope scope, Work work);

  absl::StatusOr<Handle> Take();
  void GiveBack(Handle connection);
  void NoteLoss(const absl::Status& status);
  void NoteReach();

  const std::string address_;
  const PostgresStorageOptions options_;
  std::mutex mutex_;
  std::condition_variable is_free_;
  std::vector<Handle> idle_;                    // under mutex_
  int taken_count_ = 0;                         // under mutex_
  std::optional<Clock::time_point> loss_time_;  // under mutex_; absent while all is well
  Clock::time_point next_try_time_;             // under mutex_
  std::chrono::milliseconds pause_{0};          // under mutex_; to the next try
  absl::Status last_loss_;                      // under mutex_
  std::unique_ptr<PostgresListener> listener_;  // under mutex_; made when first needed
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_POSTGRES_STORAGE_H_
