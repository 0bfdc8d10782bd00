// Stands in for a worker in the dispatcher's tests: does to its job what its mode says, without any
// solving.
//
//   odd_worker LIBRARY MODE --job NAME --attempt N --parent PID
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <string>

#include <unistd.h>

#include "service/library/sqlite_library.h"

namespace gaitshelf::service {
namespace {

volatile std::sig_atomic_t is_stopped = 0;

void SleepUntilStopped() {
  struct sigaction action = {};
  action.sa_handler = [](int) { is_stopped = 1; };
  sigaction(SIGTERM, &action, nullptr);
  while (is_stopped == 0) {
    usleep(5000);
  }
}

int Finish(Library* library, const JobFence& fence) {
  return library->FinishJob(fence, {.state = v1::JOB_STATE_DONE, .gait = "g-1"}).ok() ? 0 : 1;
}

int Main(char** arguments) {
  const auto library = OpenSqliteLibrary(arguments[1], {});
  if (!library.ok()) {
    return 1;
  }
  const std::string mode = arguments[2];
  const JobFence fence{.job = arguments[4], .attempt = std::atoi(arguments[6])};
  if (mode == "finish" || (mode == "crash-once" && fence.attempt > 1)) {
    return Finish(library->get(), fence);
  }
  if (mode == "slow") {
    usleep(300'000);
    return Finish(library->get(), fence);
  }
  if (mode == "crash" || mode == "crash-once") {
    v1::PlanCheckpoint checkpoint;
    checkpoint.set_round(fence.attempt);
    (*library)->WriteCheckpoint(fence, checkpoint).IgnoreError();
    signal(SIGSEGV, SIG_DFL);  // a sanitizer would make an exit of it
    kill(getpid(), SIGSEGV);
  }
  if (mode == "exit-3") {
    return 3;
  }
  if (mode == "gives-up-once") {
    return fence.attempt > 1 ? Finish(library->get(), fence) : 75;
  }
  if (mode == "polite") {
    SleepUntilStopped();
    return 75;
  }
  if (mode == "stubborn") {
    signal(SIGTERM, SIG_IGN);
    v1::PlanProgress deaf;
    deaf.set_iteration(1);
    (*library)->WriteProgress(fence, deaf).IgnoreError();
    for (;;) {
      (*library)->WriteHeartbeat(fence).IgnoreError();
      usleep(50'000);
    }
  }
  if (mode == "stalls-once") {
    if (fence.attempt > 1) {
      return Finish(library->get(), fence);
    }
    raise(SIGSTOP);
  }
  return 4;
}

}  // namespace
}  // namespace gaitshelf::service

int main(int argc, char** argv) { return argc == 9 ? gaitshelf::service::Main(argv) : 5; }
