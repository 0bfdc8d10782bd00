// Turns Ctrl-C (SIGINT) and SIGTERM into a call on a thread of its own, where a gRPC call may be
// cancelled, which a signal handler must not do.
#ifndef GAITSHELF_CLIENTS_CLI_INTERRUPTS_H_
#define GAITSHELF_CLIENTS_CLI_INTERRUPTS_H_

#include <atomic>
#include <functional>
#include <mutex>
#include <thread>

namespace gaitshelf::client {

// Blocks both signals for the calling thread and those that it starts later: construct it first in
// main. Without an action a signal ends the process with exit code 130. A second signal always
// does.
class Interrupts {
 public:
  Interrupts();
  ~Interrupts();
  Interrupts(const Interrupts&) = delete;
  Interrupts& operator=(const Interrupts&) = delete;

  // Sets what a signal does from now on; an empty function restores the ending of the process. Does
  // not return while the former action runs, so that what the action uses may be destroyed after.
  void SetAction(std::function<void()> action);

 private:
  void Watch();

  std::mutex mutex_;
  std::function<void()> action_;
  bool was_called_ = false;
  std::atomic<bool> is_ending_{false};
  std::thread thread_;
};

// Sets an action for as long as it lives and remembers whether it was called.
class InterruptScope {
 public:
  InterruptScope(Interrupts* interrupts, std::function<void()> action);
  ~InterruptScope();
  InterruptScope(const InterruptScope&) = delete;
  InterruptScope& operator=(const InterruptScope&) = delete;

  bool was_interrupted() const { return was_interrupted_; }

 private:
  Interrupts* interrupts_;
  std::atomic<bool> was_interrupted_{false};
};

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_INTERRUPTS_H_
