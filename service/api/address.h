// Addresses that a server may listen on: Unix sockets and loopback. Nothing else is allowed, since
// nothing here authenticates a client yet.
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
};

// Reads "unix:PATH", "127.0.0.1:PORT" (any of 127.0.0.0/8), "[::1]:PORT" or "localhost:PORT".
//
// Errors:
//   kInvalidArgument   anything else; the message says what is allowed
absl::StatusOr<Address> ParseAddress(const std::string& text);

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
