#include "clients/cli/interrupts.h"

#include <csignal>
#include <utility>

#include <unistd.h>

#include "clients/cli/exit_code.h"

namespace gaitshelf::client {
namespace {

sigset_t WatchedSignals() {
  sigset_t signals;
  sigemptyset(&signals);
  sigaddset(&signals, SIGINT);
  sigaddset(&signals, SIGTERM);
  return signals;
}

}  // namespace

Interrupts::Interrupts() {
  const sigset_t signals = WatchedSignals();
  pthread_sigmask(SIG_BLOCK, &signals, nullptr);
  thread_ = std::thread([this] { Watch(); });
}

Interrupts::~Interrupts() {
  is_ending_ = true;
  // Wakes the thread at once; it sees is_ending_ before it takes this for a signal of the user.
  // Nothing ends by it: it is blocked, and the thread waits for it.
  pthread_kill(thread_.native_handle(), SIGTERM);  // NOLINT(bugprone-bad-signal-to-kill-thread)
  thread_.join();
}

void Interrupts::SetAction(std::function<void()> action) {
  const std::lock_guard<std::mutex> lock(mutex_);
  action_ = std::move(action);
}

void Interrupts::Watch() {
  const sigset_t signals = WatchedSignals();
  while (true) {
    int signal = 0;
    if (sigwait(&signals, &signal) != 0) {
      continue;
    }
    if (is_ending_) {
      return;
    }
    const std::lock_guard<std::mutex> lock(mutex_);
    if (!action_ || was_called_) {
      _exit(kExitInterrupted);
    }
    was_called_ = true;
    action_();
  }
}

InterruptScope::InterruptScope(Interrupts* interrupts, std::function<void()> action)
    : interrupts_(interrupts) {
  if (interrupts_ != nullptr) {
    interrupts_->SetAction([this, action = std::move(action)] {
      was_interrupted_ = true;
      action();
    });
  }
}

InterruptScope::~InterruptScope() {
  if (interrupts_ != nullptr) {
    interrupts_->SetAction({});
  }
}

}  // namespace gaitshelf::client
