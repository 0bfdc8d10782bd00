// How many calls of each member are under way, short ones among them.
#ifndef GAITSHELF_SERVICE_ACCESS_CALL_COUNT_H_
#define GAITSHELF_SERVICE_ACCESS_CALL_COUNT_H_

#include <map>
#include <memory>
#include <mutex>
#include <string>

#include <grpcpp/support/server_interceptor.h>

namespace gaitshelf::service {

class CallCount {
 public:
  void Begin(const std::string& member);
  void End(const std::string& member);
  int Of(const std::string& member) const;

 private:
  mutable std::mutex mutex_;
  std::map<std::string, int> counts_;  // none is 0
};

// Has gRPC count the calls of members; callers without a certificate are not counted. The count
// outlives the server.
std::unique_ptr<grpc::experimental::ServerInterceptorFactoryInterface> MakeCallCounter(
    CallCount* count);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_ACCESS_CALL_COUNT_H_
