#include "service/access/gatekeeper.h"

#include <algorithm>
#include <cstddef>
#include <optional>
#include <vector>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "absl/time/clock.h"
#include "service/access/caller.h"
#include "service/access/role.h"

namespace gaitshelf::service {
namespace {

constexpr std::size_t kMostFacts = 1000;
constexpr char kMend[] = "; ask whoever keeps the server's list of members";

std::string CallOf(absl::string_view method) {
  return std::string(method.substr(method.rfind('/') + 1));
}

}  // namespace

grpc::Status Gatekeeper::Process(const InputMetadata& metadata,
                                 grpc::AuthContext* peer,
                                 OutputMetadata* /*consumed*/,
                                 OutputMetadata* /*response*/) {
  const auto path = metadata.find(":path");
  return Judge(path == metadata.end() ? absl::string_view()
                                      : absl::string_view(path->second.data(), path->second.size()),
               *peer,
               absl::Now());
}

grpc::Status Gatekeeper::Judge(absl::string_view method,
                               const grpc::AuthContext& peer,
                               absl::Time now) {
  const std::string name = MemberOf(peer);
  grpc::Status status = Decide(method, name, peer, now);
  if (!status.ok()) {
    const auto code = static_cast<absl::StatusCode>(status.error_code());
    log_.Write({.level = LogLevel::kWarning,
                .what = "call is refused",
                .fields = {{"call", method.substr(0, 100)},
                           {"member", name},
                           {"code", absl::StatusCodeToString(code)},
                           {"reason", status.error_message()}}});
  }
  return status;
}

grpc::Status Gatekeeper::Decide(absl::string_view method,
                                const std::string& name,
                                const grpc::AuthContext& peer,
                                absl::Time now) {
  if (name.empty()) {
    return {grpc::StatusCode::UNAUTHENTICATED,
            "your certificate names no member; it must carry one URI gaitshelf:member/NAME, as "
            "deploy/lab-ca writes it"};
  }
  const absl::StatusOr<CertificateFacts> facts = FactsOf(peer);
  if (!facts.ok() || now > facts->end || now < facts->begin) {
    return {
        grpc::StatusCode::UNAUTHENTICATED,
        absl::StrCat("the certificate of ",
                     name,
                     " does not hold now",
                     facts.ok() ? absl::StrCat(", but from ",
                                               absl::FormatTime(facts->begin, absl::UTCTimeZone()),
                                               " to ",
                                               absl::FormatTime(facts->end, absl::UTCTimeZone()))
                                : "",
                     "; have a new one issued and connect again")};
  }
  const std::optional<Member> member = members_->Find(name);
  if (!member.has_value()) {
    return {grpc::StatusCode::PERMISSION_DENIED, absl::StrCat(name, " is no member", kMend)};
  }
  const std::vector<std::string>& known = member->fingerprints;
  if (!known.empty() && std::find(known.begin(), known.end(), facts->fingerprint) == known.end()) {
    return {grpc::StatusCode::PERMISSION_DENIED,
            absl::StrCat(
                name, " is a member, but this certificate of his does not count any more", kMend)};
  }
  const std::optional<Role> needed = NeededRole(method);
  if (!needed.has_value()) {
    return {grpc::StatusCode::UNIMPLEMENTED, "this server has no such call"};
  }
  if (member->role < *needed) {
    return {grpc::StatusCode::PERMISSION_DENIED,
            absl::StrCat(name,
                         " is a ",
                         RoleName(member->role),
                         "; ",
                         CallOf(method),
                         " takes a ",
                         RoleName(*needed),
                         kMend)};
  }
  if (const int count = calls_->Of(name); count >= call_limit_) {
    return {grpc::StatusCode::RESOURCE_EXHAUSTED,
            absl::StrCat(count, " calls of ", name, " are under way already; end some")};
  }
  return grpc::Status::OK;
}

absl::StatusOr<CertificateFacts> Gatekeeper::FactsOf(const grpc::AuthContext& peer) {
  const std::vector<grpc::string_ref> shown = peer.FindPropertyValues("x509_pem_cert");
  if (shown.size() != 1) {
    return absl::InvalidArgumentError("there is no certificate");
  }
  std::string pem(shown[0].data(), shown[0].size());
  const std::lock_guard<std::mutex> lock(mutex_);
  if (const auto found = facts_.find(pem); found != facts_.end()) {
    return found->second;
  }
  absl::StatusOr<CertificateFacts> facts = ReadCertificate(pem);
  if (facts.ok()) {
    if (facts_.size() >= kMostFacts) {
      facts_.clear();
    }
    facts_.emplace(std::move(pem), *facts);
  }
  return facts;
}

}  // namespace gaitshelf::service
