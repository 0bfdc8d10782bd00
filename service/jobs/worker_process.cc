#include "service/jobs/worker_process.h"

#include <cerrno>
#include <csignal>
#include <system_error>

#include <fcntl.h>
#include <spawn.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "absl/strings/str_cat.h"

namespace gaitshelf::service {
namespace {

// The worker's own word for "stopped before the end, for no fault of the job", EX_TEMPFAIL of
// sysexits.h.
constexpr int kStoppedExit = 75;

// Owns the two descriptions that posix_spawn wants.
class SpawnPlan {
 public:
  SpawnPlan() {
    posix_spawn_file_actions_init(&files_);
    posix_spawnattr_init(&attributes_);
    posix_spawn_file_actions_addopen(&files_, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
    // Sockets of the server must not live on in a worker.
    posix_spawn_file_actions_addclosefrom_np(&files_, STDERR_FILENO + 1);
    sigset_t none;
    sigemptyset(&none);
    posix_spawnattr_setsigmask(&attributes_, &none);
    sigset_t all;
    sigfillset(&all);
    posix_spawnattr_setsigdefault(&attributes_, &all);
    // An own group: Ctrl-C at the server's terminal must reach the server alone, which then gives
    // the jobs back in order.
    posix_spawnattr_setpgroup(&attributes_, 0);
    posix_spawnattr_setflags(
        &attributes_, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF | POSIX_SPAWN_SETPGROUP);
  }
  SpawnPlan(const SpawnPlan&) = delete;
  SpawnPlan& operator=(const SpawnPlan&) = delete;
  ~SpawnPlan() {
    posix_spawn_file_actions_destroy(&files_);
    posix_spawnattr_destroy(&attributes_);
  }

  [[nodiscard]] const posix_spawn_file_actions_t* files() const { return &files_; }
  [[nodiscard]] const posix_spawnattr_t* attributes() const { return &attributes_; }

 private:
  posix_spawn_file_actions_t files_{};
  posix_spawnattr_t attributes_{};
};

}  // namespace

absl::StatusOr<pid_t> StartWorkerProcess(const std::vector<std::string>& command,
                                         const JobFence& fence,
                                         int nice_increment) {
  std::vector<std::string> words = command;
  words.insert(words.end(),
               {"--job",
                fence.job,
                "--attempt",
                absl::StrCat(fence.attempt),
                "--parent",
                absl::StrCat(getpid())});
  std::vector<char*> arguments;
  arguments.reserve(words.size() + 1);
  for (std::string& word : words) {
    arguments.push_back(word.data());
  }
  arguments.push_back(nullptr);
  const SpawnPlan plan;
  pid_t process = 0;
  const int error = posix_spawn(
      &process, words.front().c_str(), plan.files(), plan.attributes(), arguments.data(), environ);
  if (error != 0) {
    return absl::InternalError(absl::StrCat("worker ",
                                            words.front(),
                                            " could not be started: ",
                                            std::generic_category().message(error)));
  }
  // A worker at full priority is no fault, so a refusal is not one either.
  setpriority(
      PRIO_PROCESS, static_cast<id_t>(process), getpriority(PRIO_PROCESS, 0) + nice_increment);
  return process;
}

std::string DescribeWaitStatus(int wait_status) {
  if (WIFSIGNALED(wait_status)) {
    const int signal = WTERMSIG(wait_status);
    return absl::StrCat("ended by signal ", signal, " (", sigdescr_np(signal), ")");
  }
  return absl::StrCat("ended with exit status ", WEXITSTATUS(wait_status));
}

bool IsStoppedExit(int wait_status) {
  return WIFEXITED(wait_status) && WEXITSTATUS(wait_status) == kStoppedExit;
}

}  // namespace gaitshelf::service
