// Looks at the server's condition every few seconds and tells when it changes.
#ifndef GAITSHELF_SERVICE_TELEMETRY_CONDITION_WATCH_H_
#define GAITSHELF_SERVICE_TELEMETRY_CONDITION_WATCH_H_

#include <chrono>
#include <condition_variable>
#include <functional>
#include <mutex>
#include <string>
#include <thread>

#include "service/log/event.h"
#include "service/telemetry/condition.h"

namespace gaitshelf::service {

class ConditionWatch {
 public:
  // Looks once before it returns, and then from a thread of its own: a library that is away may
  // keep a look waiting. `tell` hears of the first look and of every one whose outcome is another;
  // the log of what goes wrong and of what is right again.
  ConditionWatch(std::function<Condition()> look,
                 std::chrono::milliseconds period,
                 std::function<void(const Condition&)> tell,
                 EventLog log);
  ~ConditionWatch();
  ConditionWatch(const ConditionWatch&) = delete;
  ConditionWatch& operator=(const ConditionWatch&) = delete;

  // As it was at the last look.
  Condition last() const;

 private:
  void Look();
  void Run();

  const std::function<Condition()> look_;
  const std::chrono::milliseconds period_;
  const std::function<void(const Condition&)> tell_;
  const EventLog log_;
  std::string told_;  // of the watching thread
  mutable std::mutex mutex_;
  std::condition_variable stopping_;
  Condition last_;
  bool is_stopping_ = false;
  std::thread thread_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_TELEMETRY_CONDITION_WATCH_H_
