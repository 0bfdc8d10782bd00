#include "service/jobs/run_command.h"

#include <array>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <poll.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include "absl/strings/str_cat.h"
#include "absl/strings/strip.h"
#include "service/jobs/worker_process.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

using Clock = std::chrono::steady_clock;

// A pipe takes this much at once (pipe(7)) without a reader.
constexpr std::size_t kMostInput = 60'000;

class Pipe {
 public:
  Pipe() { is_open_ = pipe2(ends_.data(), O_CLOEXEC) == 0; }
  Pipe(const Pipe&) = delete;
  Pipe& operator=(const Pipe&) = delete;
  ~Pipe() {
    Close(0);
    Close(1);
  }

  [[nodiscard]] bool is_open() const { return is_open_; }
  [[nodiscard]] int read_end() const { return ends_[0]; }
  [[nodiscard]] int write_end() const { return ends_[1]; }
  void Close(std::size_t end) {
    if (ends_[end] >= 0) {
      close(std::exchange(ends_[end], -1));
    }
  }

 private:
  std::array<int, 2> ends_ = {-1, -1};
  bool is_open_ = false;
};

struct Pipes {
  Pipe input;
  Pipe output;
  Pipe error;
};

absl::StatusOr<pid_t> Spawn(const std::vector<std::string>& words, const Pipes& pipes) {
  posix_spawn_file_actions_t files;
  posix_spawn_file_actions_init(&files);
  posix_spawn_file_actions_adddup2(&files, pipes.input.read_end(), STDIN_FILENO);
  posix_spawn_file_actions_adddup2(&files, pipes.output.write_end(), STDOUT_FILENO);
  posix_spawn_file_actions_adddup2(&files, pipes.error.write_end(), STDERR_FILENO);
  posix_spawn_file_actions_addclosefrom_np(&files, STDERR_FILENO + 1);
  posix_spawnattr_t attributes;
  posix_spawnattr_init(&attributes);
  sigset_t signals;
  sigemptyset(&signals);
  posix_spawnattr_setsigmask(&attributes, &signals);
  sigfillset(&signals);
  posix_spawnattr_setsigdefault(&attributes, &signals);
  posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF);
  std::vector<std::string> copies = words;
  std::vector<char*> arguments;
  arguments.reserve(copies.size() + 1);
  for (std::string& word : copies) {
    arguments.push_back(word.data());
  }
  arguments.push_back(nullptr);
  pid_t process = 0;
  const int error =
      posix_spawnp(&process, words.front().c_str(), &files, &attributes, arguments.data(), environ);
  posix_spawn_file_actions_destroy(&files);
  posix_spawnattr_destroy(&attributes);
  if (error != 0) {
    return absl::UnavailableError(
        absl::StrCat(words.front(), " cannot be run: ", std::generic_category().message(error)));
  }
  return process;
}

// Reads both to their ends; false when the time is over before.
bool ReadAll(const Pipes& pipes,
             Clock::time_point deadline,
             std::string* output,
             std::string* error) {
  std::array<pollfd, 2> ends = {
      pollfd{.fd = pipes.output.read_end(), .events = POLLIN, .revents = 0},
      pollfd{.fd = pipes.error.read_end(), .events = POLLIN, .revents = 0}};
  const std::array<std::string*, 2> texts = {output, error};
  std::array<char, 4096> buffer{};
  while (ends[0].fd >= 0 || ends[1].fd >= 0) {
    const auto left =
        std::chrono::duration_cast<std::chrono::milliseconds>(deadline - Clock::now());
    if (left.count() <= 0) {
      return false;
    }
    poll(ends.data(), ends.size(), static_cast<int>(left.count()));
    for (std::size_t i = 0; i < ends.size(); ++i) {
      if (ends[i].fd < 0 || ends[i].revents == 0) {
        continue;
      }
      const ssize_t count = read(ends[i].fd, buffer.data(), buffer.size());
      if (count > 0) {
        texts[i]->append(buffer.data(), static_cast<std::size_t>(count));
      } else if (count == 0 || errno != EINTR) {
        ends[i].fd = -1;  // poll leaves it out; the pipe closes it
      }
    }
  }
  return true;
}

}  // namespace

absl::StatusOr<std::string> RunCommand(const std::vector<std::string>& words,
                                       const std::string& input,
                                       double timeout_s) {
  if (words.empty() || input.size() > kMostInput) {
    return absl::InvalidArgumentError("a command needs a program and an input of at most 60 kB");
  }
  Pipes pipes;
  if (!pipes.input.is_open() || !pipes.output.is_open() || !pipes.error.is_open()) {
    return absl::UnavailableError(absl::StrCat("no pipe to ", words.front()));
  }
  const Clock::time_point deadline = Clock::now() + std::chrono::duration_cast<Clock::duration>(
                                                        std::chrono::duration<double>(timeout_s));
  // Before the program is there: it fits, and nobody can have closed the other end.
  if (write(pipes.input.write_end(), input.data(), input.size()) !=
      static_cast<ssize_t>(input.size())) {
    return absl::UnavailableError(absl::StrCat("no input to ", words.front()));
  }
  GAITSHELF_ASSIGN_OR_RETURN(const pid_t process, Spawn(words, pipes));
  pipes.input.Close(0);
  pipes.input.Close(1);
  pipes.output.Close(1);
  pipes.error.Close(1);
  std::string output;
  std::string error;
  const bool is_in_time = ReadAll(pipes, deadline, &output, &error);
  if (!is_in_time) {
    kill(process, SIGKILL);
  }
  int status = 0;
  waitpid(process, &status, 0);
  if (!is_in_time) {
    return absl::DeadlineExceededError(
        absl::StrCat(words.front(), " gave no answer within ", timeout_s, " s"));
  }
  if (status != 0) {
    return absl::UnavailableError(absl::StrCat(
        words.front(), " ", DescribeWaitStatus(status), ": ", absl::StripSuffix(error, "\n")));
  }
  return output;
}

}  // namespace gaitshelf::service
