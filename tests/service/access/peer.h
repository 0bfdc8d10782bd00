// Who calls, without a call.
#ifndef GAITSHELF_TESTS_SERVICE_ACCESS_PEER_H_
#define GAITSHELF_TESTS_SERVICE_ACCESS_PEER_H_

#include <string>
#include <utility>
#include <vector>

#include <grpcpp/security/auth_context.h>

namespace gaitshelf::test {

// Its constructor is for heirs only.
class Nothing final : public grpc::AuthPropertyIterator {};

// An authenticated peer with the URIs of its certificate, and the certificate itself.
class Peer final : public grpc::AuthContext {
 public:
  explicit Peer(std::vector<std::string> uris, std::string certificate = "")
      : uris_(std::move(uris)), certificate_(std::move(certificate)) {}

  bool IsPeerAuthenticated() const override { return true; }
  std::vector<grpc::string_ref> GetPeerIdentity() const override { return {}; }
  std::string GetPeerIdentityPropertyName() const override { return ""; }
  std::vector<grpc::string_ref> FindPropertyValues(const std::string& name) const override {
    std::vector<grpc::string_ref> values;
    if (name == "peer_uri") {
      values.assign(uris_.begin(), uris_.end());
    } else if (name == "x509_pem_cert" && !certificate_.empty()) {
      values.emplace_back(certificate_);
    }
    return values;
  }
  grpc::AuthPropertyIterator begin() const override { return Nothing(); }
  grpc::AuthPropertyIterator end() const override { return Nothing(); }
  void AddProperty(const std::string&, const grpc::string_ref&) override {}
  bool SetPeerIdentityPropertyName(const std::string&) override { return false; }

 private:
  std::vector<std::string> uris_;
  std::string certificate_;
};

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SERVICE_ACCESS_PEER_H_
