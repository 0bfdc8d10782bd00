// The channel to a server: plain on this machine, by mutual TLS with a member's certificate to
// others.
#ifndef GAITSHELF_CLIENTS_CHANNEL_CHANNEL_H_
#define GAITSHELF_CLIENTS_CHANNEL_CHANNEL_H_

#include <memory>
#include <optional>
#include <string>

#include <grpcpp/channel.h>
#include <grpcpp/support/channel_arguments.h>

#include "absl/status/statusor.h"

namespace gaitshelf::client {

// Returns the given folder, else GAITSHELF_IDENTITY, else "".
std::string IdentityFolder(const std::optional<std::string>& flag);

// Opens a channel; does not wait for the server. A folder with an identity has ca.pem, member.pem
// and member.key, as deploy/lab-ca makes them. With one, every TCP address is dialled by mutual
// TLS; a Unix socket never is.
//
// Errors:
//   kInvalidArgument      the address is another machine's, and there is no identity
//   kFailedPrecondition   a file of the identity cannot be read or is not what its name says, or
//   its
//                         certificate has ended
absl::StatusOr<std::shared_ptr<grpc::Channel>> OpenChannel(
    const std::string& address,
    const std::string& identity_folder,
    const grpc::ChannelArguments& arguments = grpc::ChannelArguments());

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CHANNEL_CHANNEL_H_
