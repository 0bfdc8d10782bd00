#include "service/api/address.h"

#include <cerrno>
#include <cstddef>
#include <system_error>

#include <arpa/inet.h>
#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "absl/status/status.h"
#include "absl/strings/match.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/strip.h"

namespace gaitshelf::service {
namespace {

constexpr std::size_t kLongestSocketPath = sizeof(sockaddr_un{}.sun_path) - 1;

absl::Status Refusal(const std::string& text, absl::string_view reason) {
  return absl::InvalidArgumentError(absl::StrCat("listen is '",
                                                 text,
                                                 "'; ",
                                                 reason,
                                                 "; give unix:PATH, 127.0.0.1:PORT, [::1]:PORT or "
                                                 "localhost:PORT, where port 0 takes a free one; "
                                                 "with --tls any address of this machine"));
}

bool IsNumeric(const std::string& host) {
  in_addr four{};
  in6_addr six{};
  return inet_pton(AF_INET, host.c_str(), &four) == 1 ||
         inet_pton(AF_INET6, host.c_str(), &six) == 1;
}

bool IsLoopback(const std::string& host) {
  in_addr four{};
  if (inet_pton(AF_INET, host.c_str(), &four) == 1) {
    return (ntohl(four.s_addr) >> 24) == 127;
  }
  in6_addr six{};
  return inet_pton(AF_INET6, host.c_str(), &six) == 1 && IN6_IS_ADDR_LOOPBACK(&six);
}

absl::StatusOr<Address> ParseSocket(const std::string& text, absl::string_view path) {
  if (path.empty()) {
    return Refusal(text, "the path is missing");
  }
  if (path.size() > kLongestSocketPath) {
    return Refusal(
        text,
        absl::StrCat(
            "the path has ", path.size(), " characters, the system allows ", kLongestSocketPath));
  }
  Address address;
  address.socket_path = std::string(path);
  return address;
}

}  // namespace

absl::StatusOr<Address> ParseAddress(const std::string& text) {
  absl::string_view rest = text;
  if (absl::ConsumePrefix(&rest, "unix:")) {
    if (absl::ConsumePrefix(&rest, "///")) {  // unix:///absolute/path
      return ParseSocket(text, absl::StrCat("/", rest));
    }
    return ParseSocket(text, rest);
  }
  const std::size_t colon = text.rfind(':');
  if (colon == std::string::npos) {
    return Refusal(text, "the port is missing");
  }
  Address address;
  if (!absl::SimpleAtoi(text.substr(colon + 1), &address.port) || address.port < 0 ||
      address.port > 65535) {
    return Refusal(text, "the port must be 0 to 65535");
  }
  address.host = text.substr(0, colon);
  if (address.host == "localhost") {
    address.host = "127.0.0.1";
  } else if (absl::StartsWith(address.host, "[") && absl::EndsWith(address.host, "]")) {
    address.host = address.host.substr(1, address.host.size() - 2);
  }
  if (!IsNumeric(address.host)) {
    return Refusal(text, "the host must be a number");
  }
  return address;
}

absl::StatusOr<Address> ParseListenAddress(const std::string& text, bool has_tls) {
  absl::StatusOr<Address> address = ParseAddress(text);
  if (address.ok() && address->is_network() && !has_tls) {
    return Refusal(text,
                   "without --tls nobody proves who he is, so that the server listens on this "
                   "machine only");
  }
  return address;
}

bool Address::is_network() const { return !is_socket() && !IsLoopback(host); }

std::string ToString(const Address& address) {
  if (address.is_socket()) {
    return absl::StrCat("unix:", address.socket_path);
  }
  const bool is_six = absl::StrContains(address.host, ":");
  return absl::StrCat(is_six ? "[" : "", address.host, is_six ? "]:" : ":", address.port);
}

absl::StatusOr<SocketLock> SocketLock::Take(const std::string& socket_path) {
  struct stat info {};
  if (lstat(socket_path.c_str(), &info) == 0 && !S_ISSOCK(info.st_mode)) {
    return absl::FailedPreconditionError(
        absl::StrCat(socket_path, " is there and is not a socket; give another path"));
  }
  const std::string path = absl::StrCat(socket_path, ".lock");
  const int descriptor = open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600);
  if (descriptor < 0) {
    return absl::FailedPreconditionError(absl::StrCat("cannot open ",
                                                      path,
                                                      ": ",
                                                      std::generic_category().message(errno),
                                                      "; give a socket in a folder of yours"));
  }
  if (flock(descriptor, LOCK_EX | LOCK_NB) != 0) {
    const int error = errno;
    close(descriptor);
    if (error == EWOULDBLOCK) {
      return absl::AlreadyExistsError(absl::StrCat(
          "another server listens on unix:", socket_path, "; stop it or give another path"));
    }
    return absl::FailedPreconditionError(
        absl::StrCat("cannot lock ", path, ": ", std::generic_category().message(error)));
  }
  return SocketLock(descriptor);
}

SocketLock::~SocketLock() {
  if (descriptor_ >= 0) {
    close(descriptor_);
  }
}

}  // namespace gaitshelf::service
