#include "service/api/server.h"

#include <chrono>
#include <cstddef>
#include <thread>
#include <utility>

#include <grpc/grpc.h>
#include <grpcpp/ext/proto_server_reflection_plugin.h>
#include <grpcpp/grpcpp.h>
#include <grpcpp/health_check_service_interface.h>
#include <sys/stat.h>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "service/api/address.h"
#include "service/api/house.h"
#include "service/api/job_service.h"
#include "service/api/library_service.h"
#include "service/api/model_service.h"
#include "service/api/trial_service.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// The largest message a client may send. A robot of 16 legs takes about 10 kB.
constexpr int kMostRequestBytes = 1 << 20;
// How long calls may take to end after they were told to. Streams need a moment for the way down.
constexpr std::chrono::milliseconds kStopGrace(1500);
// How long connections stay open after the last long call ended. The server hangs up as soon as it
// may, and a client whose next write then meets a closed connection drops what it has not read yet:
// the end of its way down. Clients that fetch a block later than this after its arrival lose it.
constexpr std::chrono::milliseconds kReadGrace(400);

struct Listening {
  std::vector<Address> addresses;
  std::vector<SocketLock> locks;
};

absl::StatusOr<Listening> PrepareAddresses(const std::vector<std::string>& listen) {
  if (listen.empty()) {
    return absl::InvalidArgumentError("listen is missing; give at least one address");
  }
  Listening listening;
  for (const std::string& text : listen) {
    GAITSHELF_ASSIGN_OR_RETURN(Address address, ParseAddress(text));
    listening.addresses.push_back(std::move(address));
  }
  for (const Address& address : listening.addresses) {
    if (address.is_socket()) {
      GAITSHELF_ASSIGN_OR_RETURN(SocketLock lock, SocketLock::Take(address.socket_path));
      listening.locks.push_back(std::move(lock));
    }
  }
  return listening;
}

// Keeps gRPC's own threads for the life of the process. When the last server or channel goes, gRPC
// joins them, and one of them may sit in a poll of 10 s after a refused request.
void KeepGrpcRunning() {
  static const bool is_kept = [] {
    grpc_init();
    return true;
  }();
  static_cast<void>(is_kept);
}

class GrpcServer final : public Server {
 public:
  explicit GrpcServer(const ServerOptions& options)
      : library_service_(&house_),
        job_service_(&house_, options.watch_limit),
        playback_service_(&house_, options.playback),
        model_service_(&house_),
        care_service_(&house_, options.care),
        trial_service_(&house_) {
    house_.library = options.library;
    if (options.wake_dispatcher) {
      house_.wake_dispatcher = options.wake_dispatcher;
    }
    if (options.log) {
      house_.log = options.log;
    }
  }

  ~GrpcServer() override { Stop(); }

  absl::Status Start(const std::vector<std::string>& listen) {
    GAITSHELF_ASSIGN_OR_RETURN(Listening listening, PrepareAddresses(listen));
    locks_ = std::move(listening.locks);
    KeepGrpcRunning();
    grpc::EnableDefaultHealthCheckService(true);
    grpc::reflection::InitProtoReflectionServerBuilderPlugin();
    grpc::ServerBuilder builder;
    // Without this a second server on the same port would start without a word.
    builder.AddChannelArgument(GRPC_ARG_ALLOW_REUSEPORT, 0);
    builder.SetMaxReceiveMessageSize(kMostRequestBytes);
    std::vector<int> ports(listening.addresses.size(), -1);
    for (std::size_t i = 0; i < ports.size(); ++i) {
      builder.AddListeningPort(
          ToString(listening.addresses[i]), grpc::InsecureServerCredentials(), &ports[i]);
    }
    builder.RegisterService(&library_service_);
    builder.RegisterService(&job_service_);
    builder.RegisterService(&playback_service_);
    builder.RegisterService(&model_service_);
    builder.RegisterService(&care_service_);
    builder.RegisterService(&trial_service_);
    // The socket is for its owner alone from the moment it is there.
    const mode_t old_mask = umask(0077);
    server_ = builder.BuildAndStart();
    umask(old_mask);
    if (server_ == nullptr) {
      return absl::FailedPreconditionError(
          absl::StrCat("cannot listen on ",
                       absl::StrJoin(listen, " and "),
                       "; another program may have the port, or the socket's folder is not there"));
    }
    for (std::size_t i = 0; i < ports.size(); ++i) {
      Address address = listening.addresses[i];
      address.port = address.is_socket() ? 0 : ports[i];
      addresses_.push_back(ToString(address));
    }
    server_->GetHealthCheckService()->SetServingStatus(true);
    return absl::OkStatus();
  }

  const std::vector<std::string>& addresses() const override { return addresses_; }

  void Stop() override {
    if (server_ == nullptr) {
      return;
    }
    server_->GetHealthCheckService()->SetServingStatus(false);
    house_.stop.Raise();
    AwaitLongCalls();
    server_->Shutdown(std::chrono::system_clock::now() + kStopGrace);
    server_->Wait();
    server_.reset();
    locks_.clear();
  }

 private:
  int LongCallCount() const {
    return playback_service_.stream_count() + job_service_.watch_count();
  }

  // Lets the long calls, which know of the stop, end and their clients read to the end.
  void AwaitLongCalls() const {
    if (LongCallCount() == 0) {
      return;
    }
    const auto deadline = std::chrono::steady_clock::now() + kStopGrace;
    while (LongCallCount() > 0 && std::chrono::steady_clock::now() < deadline) {
      std::this_thread::sleep_for(std::chrono::milliseconds(5));
    }
    std::this_thread::sleep_for(kReadGrace);
  }

  House house_;
  LibraryServiceHandler library_service_;
  JobServiceHandler job_service_;
  PlaybackServiceHandler playback_service_;
  ModelServiceHandler model_service_;
  CareServiceHandler care_service_;
  TrialServiceHandler trial_service_;
  std::vector<SocketLock> locks_;
  std::vector<std::string> addresses_;
  std::unique_ptr<grpc::Server> server_;
};

}  // namespace

absl::StatusOr<std::unique_ptr<Server>> StartServer(const ServerOptions& options) {
  auto server = std::make_unique<GrpcServer>(options);
  GAITSHELF_RETURN_IF_ERROR(server->Start(options.listen));
  return server;
}

}  // namespace gaitshelf::service
