#include "tests/bench/bare_server.h"

#include <csignal>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <memory>

#include <grpcpp/grpcpp.h>

#include "gaitshelf/v1/library_service.grpc.pb.h"

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"

namespace gaitshelf::bench {
namespace {

using Service = v1::LibraryService::WithRawCallbackMethod_GetGait<v1::LibraryService::Service>;

class BareService final : public Service {
 public:
  explicit BareService(const std::string& bytes) : slice_(bytes) {}

  grpc::ServerUnaryReactor* GetGait(grpc::CallbackServerContext* context,
                                    const grpc::ByteBuffer* /*request*/,
                                    grpc::ByteBuffer* response) override {
    *response = grpc::ByteBuffer(&slice_, 1);
    grpc::ServerUnaryReactor* const reactor = context->DefaultReactor();
    reactor->Finish(grpc::Status::OK);
    return reactor;
  }

 private:
  const grpc::Slice slice_;
};

}  // namespace

int ServeBytes(const std::string& file, const std::vector<std::string>& addresses) {
  // Blocked before any thread starts, so that sigwait is the one that sees it.
  sigset_t signals;
  sigemptyset(&signals);
  sigaddset(&signals, SIGTERM);
  pthread_sigmask(SIG_BLOCK, &signals, nullptr);
  std::ifstream stream(file);
  BareService service({std::istreambuf_iterator<char>(stream), std::istreambuf_iterator<char>()});
  grpc::ServerBuilder builder;
  std::vector<int> ports(addresses.size());
  for (std::size_t i = 0; i < addresses.size(); ++i) {
    builder.AddListeningPort(addresses[i], grpc::InsecureServerCredentials(), &ports[i]);
  }
  builder.RegisterService(&service);
  const std::unique_ptr<grpc::Server> server = builder.BuildAndStart();
  if (server == nullptr) {
    return 1;
  }
  std::string ready = "the bare server is ready on";
  for (std::size_t i = 0; i < addresses.size(); ++i) {
    absl::StrAppend(&ready,
                    " ",
                    absl::StartsWith(addresses[i], "unix:") ? addresses[i]
                                                            : absl::StrCat("127.0.0.1:", ports[i]));
  }
  std::printf("%s\n", ready.c_str());
  std::fflush(stdout);
  int signal = 0;
  sigwait(&signals, &signal);
  server->Shutdown(std::chrono::system_clock::now());
  return 0;
}

}  // namespace gaitshelf::bench
