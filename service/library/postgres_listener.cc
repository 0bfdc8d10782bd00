#include "service/library/postgres_listener.h"

#include <functional>
#include <memory>
#include <utility>

#include <poll.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "absl/strings/str_cat.h"

namespace gaitshelf::service {
namespace {

constexpr int kPauseMs = 250;               // between two tries to connect
constexpr int kListenLockTimeoutMs = 1000;  // listening takes no lock that anybody holds for long

struct NotifyFree {
  void operator()(PGnotify* notify) const { PQfreemem(notify); }
};

}  // namespace

PostgresListener::PostgresListener(std::string address)
    : address_(std::move(address)),
      stop_event_(eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)),
      thread_([this] { Run(); }) {}

PostgresListener::~PostgresListener() {
  is_stopping_ = true;
  const std::uint64_t one = 1;
  // Cannot fail: the count is far from its limit.
  static_cast<void>(write(stop_event_, &one, sizeof(one)) == sizeof(one));
  thread_.join();
  close(stop_event_);
}

std::optional<std::uint64_t> PostgresListener::News(const std::string& name) const {
  if (!is_hearing_) {
    return std::nullopt;
  }
  return counts_[std::hash<std::string>()(name) % counts_.size()];
}

void PostgresListener::Run() {
  while (!is_stopping_) {
    const auto connection = PostgresConnection::Open(address_, kListenLockTimeoutMs);
    if (connection.ok() && (*connection)->Execute(absl::StrCat("LISTEN ", kNewsChannel)).ok()) {
      // What happened before now was not heard.
      for (std::atomic<std::uint64_t>& count : counts_) {
        ++count;
      }
      is_hearing_ = true;
      Hear(connection->get());
      is_hearing_ = false;
    }
    Pause(kPauseMs);
  }
}

void PostgresListener::Hear(PostgresConnection* connection) {
  while (!is_stopping_) {
    pollfd ends[] = {{.fd = PQsocket(connection->handle()), .events = POLLIN, .revents = 0},
                     {.fd = stop_event_, .events = POLLIN, .revents = 0}};
    poll(ends, 2, -1);
    if (PQconsumeInput(connection->handle()) == 0 ||
        PQstatus(connection->handle()) != CONNECTION_OK) {
      return;
    }
    while (const std::unique_ptr<PGnotify, NotifyFree> notify{PQnotifies(connection->handle())}) {
      ++counts_[std::hash<std::string>()(notify->extra) % counts_.size()];
    }
  }
}

void PostgresListener::Pause(int duration_ms) const {
  pollfd end{.fd = stop_event_, .events = POLLIN, .revents = 0};
  poll(&end, 1, duration_ms);
}

}  // namespace gaitshelf::service
