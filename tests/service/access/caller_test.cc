// What a real handshake and a real call give is tested in tests/end_to_end/access_test.py.
#include "service/access/caller.h"

#include <map>
#include <string>
#include <vector>

#include <grpcpp/security/auth_context.h>
#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

// Its constructor is for heirs only.
class Nothing final : public grpc::AuthPropertyIterator {};

// An authenticated peer with the URIs of its certificate.
class Peer final : public grpc::AuthContext {
 public:
  explicit Peer(std::vector<std::string> uris) : uris_(std::move(uris)) {}

  bool IsPeerAuthenticated() const override { return true; }
  std::vector<grpc::string_ref> GetPeerIdentity() const override { return {}; }
  std::string GetPeerIdentityPropertyName() const override { return ""; }
  std::vector<grpc::string_ref> FindPropertyValues(const std::string& name) const override {
    std::vector<grpc::string_ref> values;
    if (name == "peer_uri") {
      values.assign(uris_.begin(), uris_.end());
    }
    return values;
  }
  grpc::AuthPropertyIterator begin() const override { return Nothing(); }
  grpc::AuthPropertyIterator end() const override { return Nothing(); }
  void AddProperty(const std::string&, const grpc::string_ref&) override {}
  bool SetPeerIdentityPropertyName(const std::string&) override { return false; }

 private:
  std::vector<std::string> uris_;
};

TEST(CallerTest, AMemberIsNamedByTheUriOfHisCertificate) {
  EXPECT_EQ(MemberOf(Peer({"https://lab.example/ada", "gaitshelf:member/ada"})), "ada");
}

TEST(CallerTest, ACertificateWithoutOrWithTwoNamesNamesNobody) {
  EXPECT_EQ(MemberOf(Peer({})), "");
  EXPECT_EQ(MemberOf(Peer({"https://lab.example/ada"})), "");
  EXPECT_EQ(MemberOf(Peer({"gaitshelf:member/ada", "gaitshelf:member/bob"})), "");
}

}  // namespace
}  // namespace gaitshelf::service
