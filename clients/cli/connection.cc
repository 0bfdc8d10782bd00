#include "clients/cli/connection.h"

#include <chrono>
#include <cstdlib>

#include <pwd.h>
#include <unistd.h>

namespace gaitshelf::client {

std::string ServerAddress(const std::optional<std::string>& flag) {
  if (flag.has_value()) {
    return *flag;
  }
  // The command reads its environment before it starts a thread.
  const char* address = std::getenv("GAITSHELF_SERVER");  // NOLINT(concurrency-mt-unsafe)
  if (address != nullptr && *address != '\0') {
    return address;
  }
  const char* runtime = std::getenv("XDG_RUNTIME_DIR");  // NOLINT(concurrency-mt-unsafe)
  const std::string folder = runtime != nullptr && *runtime != '\0' ? runtime : "/tmp";
  return "unix:" + folder + "/gaitshelf.sock";
}

void SetShortDeadline(grpc::ClientContext& context) {
  context.set_deadline(std::chrono::system_clock::now() + std::chrono::seconds(30));
}

void SetLongDeadline(grpc::ClientContext& context) {
  context.set_deadline(std::chrono::system_clock::now() + std::chrono::minutes(30));
}

std::string LoginName() {
  constexpr std::size_t kLongest = 63;
  // The command's other threads do not ask for accounts.
  const passwd* entry = getpwuid(geteuid());  // NOLINT(concurrency-mt-unsafe)
  return entry == nullptr ? std::to_string(geteuid())
                          : std::string(entry->pw_name).substr(0, kLongest);
}

void SetRequester(grpc::ClientContext& context) {
  context.AddMetadata("gaitshelf-requester", LoginName());
}

}  // namespace gaitshelf::client
