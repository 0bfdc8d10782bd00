// Addresses that a server may listen on: Unix sockets, loopback and, where clients must prove who
// they are, the network.
#ifndef GAITSHELF_SERVICE_API_ADDRESS_H_
#define GAITSHELF_SERVICE_API_ADDRESS_H_

#include <string>

#include "absl/status/statusor.h"

namespace gaitshelf::service {

struct Address {
  std::string socket_path;  // of a Unix socket; empty for TCP
  std::string host;         // numeric
  int port = 0;             // 0 lets the system choose

  bool is_socket() const { return !socket_path.empty(); }
  // Tells whether other machines can reach it.
  bool is_network() const;
};

// Reads "unix:PATH", "10.0.3.7:PORT", "[::1]:PORT" or "localhost:PORT": names of hosts are for
// clients.
//
// Errors:
//   kInvalidArgument   anything else; the message says what is allowed
absl::StatusOr<Address> ParseAddress(const std::string& text);

// As ParseAddress, for a server that does or does not let clients prove who they are.
//
// Errors:
//   kInvalidArgument   also for the network without that
absl::StatusOr<Address> ParseListenAddress(const std::string& text, bool has_tls);

// Returns the form that clients dial.
std::string ToString(const Address& address);

// Holds the lock of a Unix socket while it lives. gRPC would take a socket from a running server
// without a word; with the lock a second server is refused.
class SocketLock {
 public:
  // Locks PATH.lock, which stays behind empty. A lock ends with its process, however that ends.
  //
  // Errors:
  //   kAlreadyExists        another server holds it
  //   kFailedPrecondition   the folder cannot be written, or PATH is not a socket
  static absl::StatusOr<SocketLock> Take(const std::string& socket_path);

  SocketLock(SocketLock&& other) noexcept : descriptor_(other.descriptor_) {
    other.descriptor_ = -1;
  }
  SocketLock& operator=(SocketLock&&) = delete;
  ~SocketLock();

 private:
  explicit SocketLock(int descriptor) : descriptor_(descriptor) {}

  int descriptor_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_ADDRESS_H_
