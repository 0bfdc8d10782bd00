#include "service/telemetry/condition_watch.h"

#include <utility>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"

namespace gaitshelf::service {
namespace {

// The outcome of a look.
LogEvent OutcomeOf(const Condition& condition) {
  const std::vector<std::string> problems = ProblemsOf(condition);
  if (!problems.empty()) {
    return {.level = LogLevel::kError,
            .what = "server is unwell",
            .fields = {{"problems", absl::StrJoin(problems, "; ")}}};
  }
  if (!TakesOrders(condition)) {
    return {.level = LogLevel::kWarning, .what = "queue is full"};
  }
  return {.what = "server is well"};
}

// Numbers in it change at every look.
std::string KindOf(const Condition& condition) {
  return absl::StrCat(
      condition.is_library_reachable, ProblemsOf(condition).size(), TakesOrders(condition));
}

}  // namespace

ConditionWatch::ConditionWatch(std::function<Condition()> look,
                               std::chrono::milliseconds period,
                               std::function<void(const Condition&)> tell,
                               EventLog log)
    : look_(std::move(look)), period_(period), tell_(std::move(tell)), log_(std::move(log)) {
  Look();
  thread_ = std::thread([this] { Run(); });
}

ConditionWatch::~ConditionWatch() {
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    is_stopping_ = true;
  }
  stopping_.notify_all();
  thread_.join();
}

Condition ConditionWatch::last() const {
  const std::lock_guard<std::mutex> lock(mutex_);
  return last_;
}

void ConditionWatch::Look() {
  Condition condition = look_();
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    if (!condition.is_library_reachable) {
      condition.counts = last_.counts;
    }
    last_ = condition;
  }
  if (const std::string kind = KindOf(condition); kind != told_) {
    Tell(log_, OutcomeOf(condition));
    tell_(condition);
    told_ = kind;
  }
}

void ConditionWatch::Run() {
  std::unique_lock<std::mutex> lock(mutex_);
  while (!stopping_.wait_for(lock, period_, [this] { return is_stopping_; })) {
    lock.unlock();
    Look();
    lock.lock();
  }
}

}  // namespace gaitshelf::service
