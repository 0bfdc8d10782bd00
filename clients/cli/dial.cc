#include "clients/cli/dial.h"

#include <memory>

#include <grpcpp/channel.h>
#include <grpcpp/create_channel.h>
#include <grpcpp/security/credentials.h>

#include "clients/channel/channel.h"

namespace gaitshelf::client {
namespace {

grpc::ChannelArguments Options() {
  grpc::ChannelArguments options;
  // A server that comes back is found within a second; gRPC's own wait grows to minutes.
  options.SetInt(GRPC_ARG_INITIAL_RECONNECT_BACKOFF_MS, 200);
  options.SetInt(GRPC_ARG_MAX_RECONNECT_BACKOFF_MS, 1000);
  // A gait of a robot with 16 legs at 400 knots takes under 2 MB; the same again for comfort.
  options.SetMaxReceiveMessageSize(16 << 20);
  return options;
}

Connection Over(const std::string& address, const std::shared_ptr<grpc::Channel>& channel) {
  return {address,
          v1::LibraryService::NewStub(channel),
          v1::JobService::NewStub(channel),
          v1::PlaybackService::NewStub(channel),
          v1::ModelService::NewStub(channel),
          v1::CareService::NewStub(channel),
          v1::TrialService::NewStub(channel),
          v1::CalibrationService::NewStub(channel)};
}

}  // namespace

Connection Connect(const std::string& address) {
  return Over(address,
              grpc::CreateCustomChannel(address, grpc::InsecureChannelCredentials(), Options()));
}

absl::StatusOr<Connection> Dial(const std::string& address, const std::string& identity_folder) {
  const auto channel = OpenChannel(address, identity_folder, Options());
  if (!channel.ok()) {
    return channel.status();
  }
  return Over(address, *channel);
}

}  // namespace gaitshelf::client
