#include "service/library/postgres_storage.h"

#include <algorithm>
#include <thread>
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/library/postgres_schema.h"
#include "service/library/postgres_writer.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

constexpr int kStorageLockTimeoutMs = 5000;
constexpr std::chrono::milliseconds kFirstPause(20);
constexpr std::chrono::milliseconds kLongestPause(1000);
constexpr std::chrono::milliseconds kClashPause(10);

using Seconds = std::chrono::duration<double>;

}  // namespace

PostgresStorage::PostgresStorage(std::string address, PostgresStorageOptions options)
    : address_(std::move(address)), options_(std::move(options)) {}

absl::Status PostgresStorage::UpgradeSchema(const std::vector<std::string>& steps) {
  const auto upgrade = [&](PostgresConnection* connection) {
    Try result{.status = UpgradePostgresSchema(connection, steps)};
    result.may_repeat = connection->is_lost() || connection->is_clash();
    return result;
  };
  return Repeat(upgrade,
                {.duration_s = options_.opening_patience_s > 0 ? options_.opening_patience_s
                                                               : options_.patience_s,
                 .is_given_up = options_.is_given_up});
}

absl::Status PostgresStorage::Read(Work work) {
  return Repeat([&](PostgresConnection* connection) {
    Try result{.status = work(connection)};
    result.may_repeat = connection->is_lost();
    return result;
  });
}

absl::Status PostgresStorage::Write(WriteScope scope, Work work) {
  std::optional<PostgresWriter> open_mark;
  return Repeat([&](PostgresConnection* connection) -> Try {
    if (open_mark.has_value()) {
      const absl::StatusOr<std::optional<bool>> was_committed =
          WasCommitted(connection, *open_mark);
      if (!was_committed.ok()) {
        return {.status = was_committed.status(), .may_repeat = connection->is_lost()};
      }
      if (!was_committed->has_value()) {
        return {.status = absl::UnavailableError(
                    "the connection was lost while a change was being stored, and it is not known "
                    "yet whether it was; look before asking again"),
                .may_repeat = true};
      }
      if (**was_committed) {
        return {.status = absl::OkStatus()};
      }
      open_mark.reset();
    }
    connection->TakeNoRoom();  // of a read before
    Try result = WriteOnce(connection, scope, work);
    if (connection->TakeNoRoom() && !result.status.ok()) {
      NoteFull();
    }
    open_mark = result.open_mark;
    return result;
  });
}

PostgresStorage::Try PostgresStorage::WriteOnce(PostgresConnection* connection,
                                                WriteScope scope,
                                                Work work) {
  std::optional<PostgresWriter> mark;
  const auto begin_and_work = [&]() -> absl::Status {
    GAITSHELF_RETURN_IF_ERROR(BecomeWriter(connection));
    GAITSHELF_RETURN_IF_ERROR(connection->Execute(
        scope == WriteScope::kLibrary ? absl::StrCat("BEGIN; ", kLockLibrary) : "BEGIN"));
    GAITSHELF_RETURN_IF_ERROR(work(connection));
    GAITSHELF_ASSIGN_OR_RETURN(mark, LeaveMark(connection));
    return absl::OkStatus();
  };
  absl::Status status = begin_and_work();
  if (!status.ok()) {
    const bool is_clash = connection->is_clash() && absl::IsUnavailable(status);
    if (!connection->is_lost()) {
      connection->Execute("ROLLBACK").IgnoreError();
    }
    return {.status = status, .may_repeat = is_clash || connection->is_lost()};
  }
  status = connection->Commit();
  return {.status = status,
          .may_repeat = connection->is_lost() || connection->is_clash(),
          .open_mark = connection->is_lost() ? mark : std::nullopt};
}

template <typename Once>
absl::Status PostgresStorage::Repeat(const Once& once, const Patience& patience) {
  const Clock::time_point start = Clock::now();
  while (true) {
    absl::StatusOr<Handle> connection = Take();
    Try result{.status = connection.status(),
               .may_repeat = absl::IsUnavailable(connection.status())};
    bool is_lost = true;
    if (connection.ok()) {
      result = once(connection->get());
      is_lost = (*connection)->is_lost();
      GiveBack(*std::move(connection));
      if (is_lost) {
        NoteLoss(result.status);
      }
    }
    if (result.status.ok() || !result.may_repeat) {
      return result.status;
    }
    Clock::time_point next_time = Clock::now() + kClashPause;
    Clock::time_point patience_start = start;
    if (is_lost) {
      const std::lock_guard<std::mutex> lock(mutex_);
      next_time = next_try_time_;
      patience_start = loss_time_.value_or(start);
    }
    const bool is_given_up = patience.is_given_up && patience.is_given_up();
    if (is_given_up || next_time - patience_start > Seconds(patience.duration_s)) {
      return result.status;
    }
    std::this_thread::sleep_until(next_time);
  }
}

absl::StatusOr<PostgresStorage::Handle> PostgresStorage::Take() {
  std::unique_lock<std::mutex> lock(mutex_);
  if (!is_free_.wait_for(lock, Seconds(options_.patience_s), [this] {
        return taken_count_ < options_.connection_limit;
      })) {
    return absl::UnavailableError("all connections to the library are busy; ask again");
  }
  if (!idle_.empty()) {
    Handle connection = std::move(idle_.back());
    idle_.pop_back();
    ++taken_count_;
    return connection;
  }
  if (loss_time_.has_value()) {
    if (Clock::now() < next_try_time_) {
      return last_loss_;
    }
    // One thread tries, the others hear of it.
    next_try_time_ = Clock::now() + kLongestPause;
  }
  ++taken_count_;
  lock.unlock();
  absl::StatusOr<Handle> connection = PostgresConnection::Open(address_, kStorageLockTimeoutMs);
  if (connection.ok()) {
    NoteReach();
    return connection;
  }
  GiveBack(nullptr);
  if (absl::IsUnavailable(connection.status())) {
    NoteLoss(connection.status());
  }
  return connection.status();
}

void PostgresStorage::GiveBack(Handle connection) {
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    --taken_count_;
    if (connection != nullptr && !connection->is_lost()) {
      idle_.push_back(std::move(connection));
    }
  }
  is_free_.notify_one();
}

void PostgresStorage::NoteLoss(const absl::Status& status) {
  bool is_first = false;
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    is_first = !loss_time_.has_value();
    if (is_first) {
      loss_time_ = Clock::now();
      pause_ = kFirstPause;
    } else {
      pause_ = std::min(2 * pause_, kLongestPause);
    }
    next_try_time_ = Clock::now() + pause_;
    last_loss_ = status;
    // What one connection has met the others will.
    idle_.clear();
  }
  if (is_first) {
    Tell(options_.log,
         {.level = LogLevel::kError,
          .what = "library is out of reach",
          .fields = {{"reason", status.message()}}});
  }
}

void PostgresStorage::NoteReach() {
  Seconds duration(0);
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    if (!loss_time_.has_value()) {
      return;
    }
    duration = Clock::now() - *loss_time_;
    loss_time_.reset();
  }
  Tell(options_.log, {.what = "library is back", .fields = {{"away_s", duration.count()}}});
}

bool PostgresStorage::is_reachable() {
  const std::lock_guard<std::mutex> lock(mutex_);
  return !loss_time_.has_value();
}

absl::Status PostgresStorage::CheckStructure() {
  // The database looks after keys itself; a page that does not match its sum (initdb
  // --data-checksums) or a row that is torn shows when it is read.
  static constexpr const char* kReadAll[] = {"SELECT count(md5(body)) FROM descriptions",
                                             "SELECT count(md5(body)) FROM leg_tables",
                                             "SELECT count(md5(summary)) FROM gaits",
                                             "SELECT count(md5(gait_order)) FROM jobs",
                                             "SELECT count(md5(body)) FROM job_checkpoints",
                                             "SELECT count(md5(body)) FROM trials",
                                             "SELECT count(md5(body)) FROM trial_analyses",
                                             "SELECT count(md5(detail)) FROM changes",
                                             "SELECT count(md5(reason)) FROM retirements"};
  for (const char* sql : kReadAll) {
    GAITSHELF_RETURN_IF_ERROR(
        Read([sql](SqlConnection* connection) { return connection->QueryInteger(sql).status(); }));
  }
  return absl::OkStatus();
}

absl::StatusOr<v1::BackUpResponse> PostgresStorage::BackUp(const std::string& /*path*/) {
  return absl::UnimplementedError(
      "the library is a PostgreSQL database, whose own tools make its backups: pg_dump, as "
      "deploy/RUNBOOK.md shows");
}

std::optional<std::uint64_t> PostgresStorage::News(const std::string& name) {
  const std::lock_guard<std::mutex> lock(mutex_);
  if (listener_ == nullptr) {
    listener_ = std::make_unique<PostgresListener>(address_);
  }
  return listener_->News(name);
}

}  // namespace gaitshelf::service
