#include "clients/cli/connection.h"

#include <chrono>
#include <cstdlib>

#include <grpcpp/create_channel.h>
#include <grpcpp/security/credentials.h>
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

Connection Connect(const std::string& address) {
  grpc::ChannelArguments options;
  // A server that comes back is found within a second; gRPC's own wait grows to minutes.
  options.SetInt(GRPC_ARG_INITIAL_RECONNECT_BACKOFF_MS, 200);
  options.SetInt(GRPC_ARG_MAX_RECONNECT_BACKOFF_MS, 1000);
  // A gait of a robot with 16 legs at 400 knots takes under 2 MB; the same again for comfort.
  options.SetMaxReceiveMessageSize(16 << 20);
  const auto channel =
      grpc::CreateCustomChannel(address, grpc::InsecureChannelCredentials(), options);
  return {address,
          v1::LibraryService::NewStub(channel),
          v1::JobService::NewStub(channel),
          v1::PlaybackService::NewStub(channel),
          v1::ModelService::NewStub(channel),
          v1::CareService::NewStub(channel),
          v1::TrialService::NewStub(channel)};
}

void SetShortDeadline(grpc::ClientContext& context) {
  context.set_deadline(std::chrono::system_clock::now() + std::chrono::seconds(30));
}

std::string LoginName() {
  constexpr std::size_t kLongest = 63;
  const passwd* entry = getpwuid(geteuid());  // NOLINT(concurrency-mt-unsafe)
  return entry == nullptr ? std::to_string(geteuid())
                          : std::string(entry->pw_name).substr(0, kLongest);
}

void SetRequester(grpc::ClientContext& context) {
  context.AddMetadata("gaitshelf-requester", LoginName());
}

}  // namespace gaitshelf::client
