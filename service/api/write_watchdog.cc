#include "service/api/write_watchdog.h"

namespace gaitshelf::service {

WriteWatchdog::WriteWatchdog(std::chrono::milliseconds limit)
    : limit_(limit), thread_([this] { Run(); }) {}

WriteWatchdog::~WriteWatchdog() {
  stop_.Raise();
  thread_.join();
}

WriteWatchdog::Watch::Watch(WriteWatchdog* dog, grpc::ServerContext* context)
    : dog_(dog), context_(context) {
  const std::lock_guard<std::mutex> lock(dog_->mutex_);
  dog_->deadlines_[context_] = std::chrono::steady_clock::now() + dog_->limit_;
}

WriteWatchdog::Watch::~Watch() {
  const std::lock_guard<std::mutex> lock(dog_->mutex_);
  dog_->deadlines_.erase(context_);
}

void WriteWatchdog::Run() {
  const auto period = limit_ / 4;
  while (!stop_.WaitUntil(std::chrono::steady_clock::now() + period)) {
    const std::lock_guard<std::mutex> lock(mutex_);
    const auto now = std::chrono::steady_clock::now();
    for (const auto& [context, deadline] : deadlines_) {
      if (deadline <= now) {
        context->TryCancel();
      }
    }
  }
}

}  // namespace gaitshelf::service
