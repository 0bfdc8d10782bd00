#include "service/access/caller.h"

#include <vector>

#include <grpcpp/security/auth_context.h>

#include "absl/strings/match.h"
#include "absl/strings/string_view.h"
#include "absl/strings/strip.h"

namespace gaitshelf::service {
namespace {

// A member's certificate names him by a URI of this form, once.
constexpr absl::string_view kMemberPrefix = "gaitshelf:member/";

}  // namespace

std::string MemberOf(const grpc::AuthContext& peer) {
  std::string member;
  int count = 0;
  for (const grpc::string_ref& uri : peer.FindPropertyValues("peer_uri")) {
    absl::string_view name(uri.data(), uri.size());
    if (absl::ConsumePrefix(&name, kMemberPrefix)) {
      member = std::string(name);
      ++count;
    }
  }
  return count == 1 ? member : "";
}

std::string MemberOf(const grpc::ServerContextBase& context) {
  const auto peer = context.auth_context();
  return peer == nullptr ? "" : MemberOf(*peer);
}

std::string RequesterOf(const grpc::ServerContextBase& context, const std::string& stated) {
  if (std::string member = MemberOf(context); !member.empty()) {
    return member;
  }
  std::string requester = stated;
  if (requester.empty()) {
    const auto header = context.client_metadata().find(kRequesterHeader);
    if (header != context.client_metadata().end()) {
      requester.assign(header->second.data(), header->second.size());
    }
  }
  return requester.substr(0, kLongestRequester);
}

}  // namespace gaitshelf::service
