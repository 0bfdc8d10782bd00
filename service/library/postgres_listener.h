// Hears which jobs and gaits other processes have changed (PostgreSQL's LISTEN), so that whoever
// follows one, or keeps it, need not ask the database again and again.
#ifndef GAITSHELF_SERVICE_LIBRARY_POSTGRES_LISTENER_H_
#define GAITSHELF_SERVICE_LIBRARY_POSTGRES_LISTENER_H_

#include <array>
#include <atomic>
#include <cstdint>
#include <optional>
#include <string>
#include <thread>

#include "service/library/postgres_connection.h"

namespace gaitshelf::service {

class PostgresListener {
 public:
  // Starts a thread with a connection of its own, which is made again when it is lost.
  explicit PostgresListener(std::string address);
  PostgresListener(const PostgresListener&) = delete;
  PostgresListener& operator=(const PostgresListener&) = delete;
  ~PostgresListener();

  // Returns a number that grows whenever the job or gait has changed (and now and then when another
  // one has); absent while the database is out of reach. Returns at once.
  [[nodiscard]] std::optional<std::uint64_t> News(const std::string& name) const;

 private:
  void Run();
  // Hears until the connection is lost or the end is wished for.
  void Hear(PostgresConnection* connection);
  // Sleeps unless the end is wished for.
  void Pause(int duration_ms) const;

  const std::string address_;
  const int stop_event_;  // readable once the end is wished for
  std::atomic<bool> is_stopping_{false};
  std::atomic<bool> is_hearing_{false};
  // Names share a count by their hash, so that the memory has a bound.
  std::array<std::atomic<std::uint64_t>, 1024> counts_{};
  std::thread thread_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_POSTGRES_LISTENER_H_
