// The gRPC server: all services, standard health checking and reflection, on Unix sockets and
// loopback. Owns neither the library nor the dispatcher.
#ifndef GAITSHELF_SERVICE_API_SERVER_H_
#define GAITSHELF_SERVICE_API_SERVER_H_

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "service/api/care_service.h"
#include "service/api/playback_service.h"
#include "service/library/library.h"

namespace gaitshelf::service {

struct ServerOptions {
  std::vector<std::string> listen;  // see address.h; at least one
  Library* library = nullptr;       // outlives the server
  std::function<void()> wake_dispatcher;
  std::function<void(const std::string&)> log;
  int watch_limit = 256;
  PlaybackServiceOptions playback;
  CareServiceOptions care;
};

class Server {
 public:
  Server() = default;
  Server(const Server&) = delete;
  Server& operator=(const Server&) = delete;
  virtual ~Server() = default;

  // Addresses in the form that clients dial, with the ports that were chosen.
  virtual const std::vector<std::string>& addresses() const = 0;
  // Ends long calls (streams are led to rest first) and then the server; takes at most about 2 s.
  // The destructor does the same.
  virtual void Stop() = 0;
};

// Starts to serve.
//
// Errors:
//   kInvalidArgument      an address is not allowed
//   kAlreadyExists        another server has the socket
//   kFailedPrecondition   an address cannot be used
absl::StatusOr<std::unique_ptr<Server>> StartServer(const ServerOptions& options);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_SERVER_H_
