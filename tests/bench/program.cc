#include "tests/bench/program.h"

#include <chrono>
#include <csignal>
#include <cstdlib>
#include <fstream>
#include <sstream>

#include <fcntl.h>
#include <poll.h>
#include <sys/wait.h>
#include <unistd.h>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"

namespace gaitshelf::bench {
namespace {

using Clock = std::chrono::steady_clock;

constexpr char kReady[] = "is ready on ";

// Reads what a pipe gives up to the end of a line; empty when there is none within a minute.
std::string ReadLine(int pipe) {
  const Clock::time_point end = Clock::now() + std::chrono::minutes(1);
  std::string line;
  char letter = 0;
  while (Clock::now() < end) {
    pollfd wait{.fd = pipe, .events = POLLIN, .revents = 0};
    if (poll(&wait, 1, 1000) <= 0) {
      continue;
    }
    if (read(pipe, &letter, 1) != 1) {
      return "";
    }
    if (letter == '\n') {
      return line;
    }
    line += letter;
  }
  return "";
}

double FieldOf(const std::string& text, const std::string& key) {
  const std::size_t place = text.find(key);
  return place == std::string::npos ? 0.0 : std::atof(text.c_str() + place + key.size());
}

std::string ReadProc(pid_t process, const char* name) {
  std::ifstream file(absl::StrCat("/proc/", process, "/", name));
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

}  // namespace

double ProcessSeconds(pid_t process) {
  const std::string text = ReadProc(process, "stat");
  // Fields 14 and 15, user and system time in clock ticks; the name in field 2 may hold blanks.
  std::istringstream fields(text.substr(text.rfind(')') + 2));
  std::string field;
  double ticks = 0.0;
  for (int i = 3; i <= 15 && fields >> field; ++i) {
    ticks += i >= 14 ? std::atof(field.c_str()) : 0.0;
  }
  return ticks / static_cast<double>(sysconf(_SC_CLK_TCK));
}

Memory ProcessMemory(pid_t process) {
  const std::string text = ReadProc(process, "status");
  return {.now_mb = FieldOf(text, "VmRSS:") / 1024.0, .peak_mb = FieldOf(text, "VmHWM:") / 1024.0};
}

absl::StatusOr<std::unique_ptr<Program>> Program::Start(const std::vector<std::string>& command) {
  std::vector<std::string> copy = command;
  std::vector<char*> words;
  for (std::string& word : copy) {
    words.push_back(word.data());
  }
  words.push_back(nullptr);
  int ends[2] = {-1, -1};
  if (pipe2(ends, O_CLOEXEC) != 0) {
    return absl::InternalError("no pipe");
  }
  const Clock::time_point begin = Clock::now();
  const pid_t process = fork();
  if (process == 0) {
    dup2(ends[1], STDOUT_FILENO);
    execv(words.front(), words.data());
    _exit(127);
  }
  close(ends[1]);
  std::unique_ptr<Program> program(new Program(process, ends[0]));
  const std::string line = ReadLine(ends[0]);
  program->start_s_ = std::chrono::duration<double>(Clock::now() - begin).count();
  const std::size_t place = line.find(kReady);
  if (place == std::string::npos) {
    return absl::UnavailableError(
        absl::StrCat(command.front(), " did not get ready; it says '", line, "'"));
  }
  program->addresses_ = absl::StrSplit(line.substr(place + sizeof(kReady) - 1), ' ');
  return program;
}

Program::~Program() {
  kill(process_, SIGTERM);
  waitpid(process_, nullptr, 0);
  close(output_);
}

}  // namespace gaitshelf::bench
