#include "service/api/server.h"

#include <chrono>
#include <cstddef>
#include <mutex>
#include <thread>
#include <utility>

#include <grpc/grpc.h>
#include <grpc/support/time.h>
#include <grpcpp/ext/proto_server_reflection_plugin.h>
#include <grpcpp/grpcpp.h>
#include <grpcpp/health_check_service_interface.h>
#include <grpcpp/resource_quota.h>
#include <sys/stat.h>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "service/access/call_count.h"
#include "service/access/door.h"
#include "service/api/address.h"
#include "service/api/calibration_service.h"
#include "service/api/house.h"
#include "service/api/job_service.h"
#include "service/api/library_service.h"
#include "service/api/model_service.h"
#include "service/api/trial_service.h"
#include "service/telemetry/condition_watch.h"
#include "service/telemetry/metrics.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// The largest message a client may send. A robot of 16 legs takes about 10 kB.
constexpr int kMostRequestBytes = 1 << 20;
// Calls that one connection may have open, working or refused; further ones wait at the client.
constexpr int kMostCallsPerConnection = 1000;
constexpr int kKeepalive_ms = 60'000;
constexpr int kKeepaliveTimeout_ms = 20'000;
// What gRPC may hold for connections and messages before it turns clients away.
constexpr std::size_t kMostTransportBytes = 512U << 20;
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

absl::StatusOr<Listening> PrepareAddresses(const std::vector<std::string>& listen, bool has_tls) {
  if (listen.empty()) {
    return absl::InvalidArgumentError("listen is missing; give at least one address");
  }
  Listening listening;
  for (const std::string& text : listen) {
    GAITSHELF_ASSIGN_OR_RETURN(Address address, ParseListenAddress(text, has_tls));
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

// Keeps what clients can make the server hold within bounds.
void SetBounds(int call_limit, grpc::ServerBuilder* builder) {
  // Without this a second server on the same port would start without a word.
  builder->AddChannelArgument(GRPC_ARG_ALLOW_REUSEPORT, 0);
  builder->SetMaxReceiveMessageSize(kMostRequestBytes);
  builder->AddChannelArgument(GRPC_ARG_MAX_CONCURRENT_STREAMS, kMostCallsPerConnection);
  // Connections whose other end has gone without a word are found and closed.
  builder->AddChannelArgument(GRPC_ARG_KEEPALIVE_TIME_MS, kKeepalive_ms);
  builder->AddChannelArgument(GRPC_ARG_KEEPALIVE_TIMEOUT_MS, kKeepaliveTimeout_ms);
  // A call beyond the threads is refused at once with RESOURCE_EXHAUSTED.
  grpc::ResourceQuota quota("gaitshelfd");
  quota.SetMaxThreads(call_limit);
  quota.Resize(kMostTransportBytes);
  builder->SetResourceQuota(quota);
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
      : house_(options.patience),
        library_service_(&house_, options.gaits),
        job_service_(&house_, options.watches),
        playback_service_(&house_, options.playback),
        model_service_(&house_),
        care_service_(&house_, options.care),
        trial_service_(&house_, options.trials),
        calibration_service_(&house_) {
    house_.library = options.library;
    if (options.wake_dispatcher) {
      house_.wake_dispatcher = options.wake_dispatcher;
    }
    house_.log = options.log;
  }

  ~GrpcServer() override { Stop(); }

  absl::Status Start(const ServerOptions& options) {
    GAITSHELF_ASSIGN_OR_RETURN(Listening listening,
                               PrepareAddresses(options.listen, !options.tls_folder.empty()));
    if (!options.tls_folder.empty()) {
      GAITSHELF_ASSIGN_OR_RETURN(
          door_, Door::Open(options.tls_folder, options.calls_per_member, house_.log));
    }
    locks_ = std::move(listening.locks);
    KeepGrpcRunning();
    grpc::EnableDefaultHealthCheckService(true);
    grpc::reflection::InitProtoReflectionServerBuilderPlugin();
    grpc::ServerBuilder builder;
    SetBounds(options.call_limit, &builder);
    std::vector<std::unique_ptr<grpc::experimental::ServerInterceptorFactoryInterface>> creators;
    creators.push_back(MakeCallReporter(house_.meter, {kGetGaitMethod}));
    if (door_ != nullptr) {
      creators.push_back(MakeCallCounter(door_->calls()));
    }
    builder.experimental().SetInterceptorCreators(std::move(creators));
    std::vector<int> ports(listening.addresses.size(), -1);
    for (std::size_t i = 0; i < ports.size(); ++i) {
      const bool has_tls = door_ != nullptr && !listening.addresses[i].is_socket();
      builder.AddListeningPort(ToString(listening.addresses[i]),
                               has_tls ? door_->credentials() : grpc::InsecureServerCredentials(),
                               &ports[i]);
    }
    builder.RegisterService(&library_service_);
    builder.RegisterService(&job_service_);
    builder.RegisterService(&playback_service_);
    builder.RegisterService(&model_service_);
    builder.RegisterService(&care_service_);
    builder.RegisterService(&trial_service_);
    builder.RegisterService(&calibration_service_);
    // The socket is for its owner alone from the moment it is there.
    const mode_t old_mask = umask(0077);
    server_ = builder.BuildAndStart();
    umask(old_mask);
    if (server_ == nullptr) {
      return absl::FailedPreconditionError(
          absl::StrCat("cannot listen on ",
                       absl::StrJoin(options.listen, " and "),
                       "; another program may have the port, or the socket's folder is not there"));
    }
    for (std::size_t i = 0; i < ports.size(); ++i) {
      Address address = listening.addresses[i];
      address.port = address.is_socket() ? 0 : ports[i];
      addresses_.push_back(ToString(address));
    }
    return WatchCondition(options);
  }

  int metrics_port() const override { return metrics_ == nullptr ? 0 : metrics_->port(); }

  const std::vector<std::string>& addresses() const override { return addresses_; }

  void Stop() override {
    if (server_ == nullptr) {
      return;
    }
    {
      const std::lock_guard<std::mutex> lock(health_mutex_);
      is_stopping_ = true;
      server_->GetHealthCheckService()->SetServingStatus(false);
    }
    house_.stop.Raise();
    AwaitLongCalls();
    server_->Shutdown(gpr_time_add(gpr_now(GPR_CLOCK_MONOTONIC),
                                   gpr_time_from_millis(kStopGrace.count(), GPR_TIMESPAN)));
    server_->Wait();
    metrics_.reset();
    condition_.reset();
    server_.reset();
    locks_.clear();
  }

 private:
  // Looks at library and disk from now on, and serves metrics when they are wanted.
  absl::Status WatchCondition(const ServerOptions& options) {
    condition_ = std::make_unique<ConditionWatch>(
        [library = options.library,
         folder = options.disk_folder,
         least = options.least_disk_bytes] { return LookAt(library, folder, least); },
        options.look_period,
        [this](const Condition& condition) { TellHealth(condition); },
        house_.log);
    if (options.metrics_address.empty()) {
      return absl::OkStatus();
    }
    GAITSHELF_ASSIGN_OR_RETURN(
        metrics_,
        Metrics::Serve(options.metrics_address,
                       {.condition = [this] { return condition_->last(); },
                        .calls = [meter = house_.meter] { return meter->Read(); }}));
    return absl::OkStatus();
  }

  // A server with a full queue serves all but JobService.
  void TellHealth(const Condition& condition) {
    const std::lock_guard<std::mutex> lock(health_mutex_);
    if (!is_stopping_) {
      grpc::HealthCheckServiceInterface* const health = server_->GetHealthCheckService();
      health->SetServingStatus(ProblemsOf(condition).empty());
      health->SetServingStatus(v1::JobService::service_full_name(), TakesOrders(condition));
    }
  }

  // Lets the long calls, which know of the stop, end and their clients read to the end.
  void AwaitLongCalls() const {
    if (house_.places->count() > 0) {
      house_.places->AwaitNone(std::chrono::steady_clock::now() + kStopGrace);
      std::this_thread::sleep_for(kReadGrace);
    }
  }

  House house_;
  std::unique_ptr<Door> door_;  // absent without TLS
  std::mutex health_mutex_;
  bool is_stopping_ = false;
  LibraryServiceHandler library_service_;
  JobServiceHandler job_service_;
  PlaybackServiceHandler playback_service_;
  ModelServiceHandler model_service_;
  CareServiceHandler care_service_;
  TrialServiceHandler trial_service_;
  CalibrationServiceHandler calibration_service_;
  std::vector<SocketLock> locks_;
  std::vector<std::string> addresses_;
  std::unique_ptr<grpc::Server> server_;
  std::unique_ptr<ConditionWatch> condition_;
  std::unique_ptr<Metrics> metrics_;
};

}  // namespace

absl::StatusOr<std::unique_ptr<Server>> StartServer(const ServerOptions& options) {
  auto server = std::make_unique<GrpcServer>(options);
  GAITSHELF_RETURN_IF_ERROR(server->Start(options));
  return server;
}

}  // namespace gaitshelf::service
