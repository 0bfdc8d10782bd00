#include "service/jobs/round_thread.h"

#include <chrono>
#include <utility>

namespace gaitshelf::service {

RoundThread::RoundThread(double period_s, std::function<void()> round, std::function<void()> end)
    : period_s_(period_s),
      round_(std::move(round)),
      end_(std::move(end)),
      thread_([this] { Run(); }) {}

RoundThread::~RoundThread() { Stop(); }

void RoundThread::Wake() {
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    is_woken_ = true;
  }
  wish_.notify_all();
}

void RoundThread::Stop() {
  const std::lock_guard<std::mutex> stop_lock(stop_mutex_);
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    is_stopping_ = true;
  }
  wish_.notify_all();
  if (thread_.joinable()) {
    thread_.join();
  }
}

void RoundThread::Run() {
  std::unique_lock<std::mutex> lock(mutex_);
  while (!is_stopping_) {
    is_woken_ = false;
    lock.unlock();
    round_();
    lock.lock();
    wish_.wait_for(lock, std::chrono::duration<double>(period_s_), [this] {
      return is_woken_ || is_stopping_;
    });
  }
  lock.unlock();
  if (end_) {
    end_();
  }
}

}  // namespace gaitshelf::service
