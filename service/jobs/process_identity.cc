#include "service/jobs/process_identity.h"

#include <fstream>
#include <iterator>
#include <vector>

#include <unistd.h>

#include "absl/strings/ascii.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"

namespace gaitshelf::service {
namespace {

std::string ReadFile(const std::string& path) {
  std::ifstream file(path);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

std::string HostName() {
  char name[256] = {};
  return gethostname(name, sizeof(name) - 1) == 0 ? name : "";
}

std::string BootId() {
  return std::string(absl::StripAsciiWhitespace(ReadFile("/proc/sys/kernel/random/boot_id")));
}

// Start of a process in clock ticks since the boot; empty when there is no such process or it has
// ended and only waits to be reaped.
std::string StartOf(const std::string& number) {
  const std::string stat = ReadFile(absl::StrCat("/proc/", number, "/stat"));
  // The name in parentheses may hold anything; what follows its last parenthesis is fields 3, 4,
  // ...
  const std::size_t name_end = stat.rfind(')');
  if (name_end == std::string::npos) {
    return "";
  }
  const std::vector<std::string> fields =
      absl::StrSplit(stat.substr(name_end + 1), ' ', absl::SkipEmpty());
  constexpr std::size_t kState = 0;
  constexpr std::size_t kStart = 19;  // field 22 of proc(5)
  if (fields.size() <= kStart || fields[kState] == "Z" || fields[kState] == "X") {
    return "";
  }
  return fields[kStart];
}

}  // namespace

std::string IdentifyThisProcess() {
  const std::string number = absl::StrCat(getpid());
  return absl::StrCat(HostName(), "/", BootId(), "/", number, "/", StartOf(number));
}

ProcessLife LookUpProcess(const std::string& identity) {
  const std::vector<std::string> parts = absl::StrSplit(identity, '/');
  if (parts.size() != 4 || parts[0] != HostName()) {
    return ProcessLife::kUnknown;
  }
  const std::string start = StartOf(parts[2]);
  return parts[1] == BootId() && !start.empty() && start == parts[3] ? ProcessLife::kAlive
                                                                     : ProcessLife::kDead;
}

}  // namespace gaitshelf::service
