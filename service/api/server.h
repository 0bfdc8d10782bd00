// The gRPC server: all services, standard health checking and reflection, on Unix sockets, loopback
// and, behind mutual TLS, the network. Owns neither the library nor the dispatcher.
#ifndef GAITSHELF_SERVICE_API_SERVER_H_
#define GAITSHELF_SERVICE_API_SERVER_H_

#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "service/api/care_service.h"
#include "service/api/playback_service.h"
#include "service/api/trial_service.h"
#include "service/library/library.h"
#include "service/log/event.h"

namespace gaitshelf::service {

struct ServerOptions {
  std::vector<std::string> listen;  // see address.h; at least one
  // Folder of certificates and members, see door.h: every TCP port then takes mutual TLS. Empty:
  // none does, and only this machine is served.
  std::string tls_folder;
  Library* library = nullptr;  // outlives the server
  std::function<void()> wake_dispatcher;
  EventLog log;
  // Limits beyond which a call is refused at once with RESOURCE_EXHAUSTED.
  int call_limit = 512;        // calls that work at a time, in all; each takes a thread
  int calls_per_member = 128;  // calls of one member under way, over TLS
  Admission::Limits watches{.total = 256, .each = 64};
  Admission::Limits gaits{.total = 256, .each = 64};
  // A client that takes longer to read or send one message of a stream is cut off.
  std::chrono::milliseconds patience{10000};
  std::string metrics_address;  // see metrics.h; empty: none
  // Health: the folder of the library, empty when it is on another machine, and the free space that
  // it wants.
  std::string disk_folder;
  std::int64_t least_disk_bytes = 0;
  std::chrono::milliseconds look_period{5000};
  PlaybackServiceOptions playback;
  CareServiceOptions care;
  TrialServiceOptions trials;
};

class Server {
 public:
  Server() = default;
  Server(const Server&) = delete;
  Server& operator=(const Server&) = delete;
  virtual ~Server() = default;

  // Addresses in the form that clients dial, with the ports that were chosen.
  virtual const std::vector<std::string>& addresses() const = 0;
  // Port of the metrics; 0 without them.
  virtual int metrics_port() const = 0;
  // Ends long calls (streams are led to rest first) and then the server; takes at most about 2 s.
  // The destructor does the same.
  virtual void Stop() = 0;
};

// Starts to serve.
//
// Errors:
//   kInvalidArgument      an address is not allowed
//   kAlreadyExists        another server has the socket
//   kFailedPrecondition   an address, also that of the metrics, or the folder for TLS cannot be
//   used
absl::StatusOr<std::unique_ptr<Server>> StartServer(const ServerOptions& options);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_SERVER_H_
