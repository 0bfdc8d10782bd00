#include "clients/cli/run_python.h"

#include <csignal>
#include <filesystem>
#include <system_error>

#include <unistd.h>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/strip.h"

namespace gaitshelf::client {
namespace {

// Another python3 on the PATH need not have gRPC.
constexpr char kPython[] = "/usr/bin/python3";

constexpr char kStart[] =
    "import sys\n"
    "try:\n"
    "    from gaitshelf.command import main\n"
    "except ImportError as error:\n"
    "    sys.exit(f'gaitshelf: this verb runs in the Python package gaitshelf, which '\n"
    "             f'/usr/bin/python3 cannot load: {error}; build it with deploy/build release, '\n"
    "             f'or install it as README.md says')\n"
    "except KeyboardInterrupt:\n"
    "    sys.exit(130)\n"
    "sys.exit(main(sys.argv[1:]))\n";

std::vector<char*> Pointers(std::vector<std::string>& texts) {
  std::vector<char*> pointers;
  pointers.reserve(texts.size() + 1);
  for (std::string& text : texts) {
    pointers.push_back(text.data());
  }
  pointers.push_back(nullptr);
  return pointers;
}

}  // namespace

PythonCall MakePythonCall(const std::vector<std::string>& words,
                          const std::vector<std::string>& environment,
                          const std::string& program_folder) {
  PythonCall call;
  call.words = {kPython, "-B", "-c", kStart};
  call.words.insert(call.words.end(), words.begin(), words.end());
  const std::filesystem::path beside =
      std::filesystem::path(program_folder).parent_path() / "python";
  std::error_code ignored;
  const bool is_beside = std::filesystem::exists(beside / "gaitshelf" / "__init__.py", ignored);
  std::string path = is_beside ? beside.string() : "";
  for (const std::string& variable : environment) {
    if (!absl::StartsWith(variable, "PYTHONPATH=")) {
      call.environment.push_back(variable);
      continue;
    }
    const std::string rest(absl::StripPrefix(variable, "PYTHONPATH="));
    absl::StrAppend(&path, path.empty() || rest.empty() ? "" : ":", rest);
  }
  if (!path.empty()) {
    call.environment.push_back(absl::StrCat("PYTHONPATH=", path));
  }
  return call;
}

absl::Status RunPython(const std::vector<std::string>& words) {
  std::error_code ignored;
  const std::filesystem::path program = std::filesystem::read_symlink("/proc/self/exe", ignored);
  std::vector<std::string> environment;
  for (char** variable = environ; *variable != nullptr; ++variable) {
    environment.emplace_back(*variable);
  }
  PythonCall call = MakePythonCall(words, environment, program.parent_path().string());
  std::vector<char*> word_pointers = Pointers(call.words);
  std::vector<char*> environment_pointers = Pointers(call.environment);
  // What runs next must hear Ctrl-C, which is blocked here (interrupts.h).
  sigset_t none;
  sigemptyset(&none);
  pthread_sigmask(SIG_SETMASK, &none, nullptr);
  execve(kPython, word_pointers.data(), environment_pointers.data());
  return absl::FailedPreconditionError(absl::StrCat(
      kPython, " cannot be started; install Debian's Python with deploy/install-packages"));
}

}  // namespace gaitshelf::client
