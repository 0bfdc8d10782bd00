// Who calls, as far as the server knows.
#ifndef GAITSHELF_SERVICE_ACCESS_CALLER_H_
#define GAITSHELF_SERVICE_ACCESS_CALLER_H_

#include <string>

#include <grpcpp/server_context.h>

namespace gaitshelf::service {

// Header in which a caller on the server's own machine may say who it is.
inline constexpr char kRequesterHeader[] = "gaitshelf-requester";
// The longest name that is kept, bytes.
inline constexpr int kLongestRequester = 63;

// Returns the name of the member whose certificate the caller has shown. Without one, on the
// machine's own sockets, returns what the caller states about itself in the request or else in the
// header, cut to the longest name; empty when it says nothing.
std::string RequesterOf(const grpc::ServerContextBase& context, const std::string& stated = "");

// Return the name of the member whose certificate the caller has shown; empty without one.
std::string MemberOf(const grpc::AuthContext& peer);
std::string MemberOf(const grpc::ServerContextBase& context);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_ACCESS_CALLER_H_
