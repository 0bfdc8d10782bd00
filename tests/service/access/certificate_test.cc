#include "service/access/certificate.h"

#include <filesystem>
#include <fstream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/time/clock.h"
#include "tests/support/lab.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using absl::StatusCode;
using test::HasStatus;
using testing::AllOf;
using testing::HasSubstr;

TEST(CertificateTest, ReadsWhatOpensslWrites) {
  test::Lab lab;
  lab.Run("member", "ada keeper --days 10");
  const auto facts = ReadCertificate(lab.Read("member/ada/member.pem"));
  ASSERT_THAT(facts.status(), test::IsOk());
  // lab-ca takes the sum with sha256sum, of the certificate as openssl writes it in DER.
  EXPECT_THAT(lab.Read("server/members"), HasSubstr("ada keeper " + facts->fingerprint));
  EXPECT_EQ(facts->end - facts->begin, absl::Hours(240));
  EXPECT_LT(absl::AbsDuration(absl::Now() - facts->begin), absl::Minutes(5));
}

TEST(CertificateTest, RefusesWhatIsNone) {
  for (const char* text : {"", "hello", "-----BEGIN CERTIFICATE-----\nabc\n"}) {
    EXPECT_THAT(ReadCertificate(text).status(),
                HasStatus(StatusCode::kInvalidArgument, HasSubstr("no certificate")));
  }
}

class TlsFilesTest : public testing::Test {
 protected:
  TlsFilesTest() { lab_.Run("server", "10.0.3.7 gait.lab --days 10"); }

  absl::Status Check(absl::Duration later = absl::ZeroDuration()) {
    return CheckTlsFiles(FilesOf(lab_.server_folder()), absl::Now() + later);
  }

  test::Lab lab_;
};

TEST_F(TlsFilesTest, TakesWhatLabCaMakes) { EXPECT_THAT(Check(), test::IsOk()); }

TEST_F(TlsFilesTest, RefusesACertificateThatDoesNotHoldNow) {
  EXPECT_THAT(Check(absl::Hours(9 * 24)), test::IsOk());
  EXPECT_THAT(Check(absl::Hours(11 * 24)),
              HasStatus(StatusCode::kFailedPrecondition, HasSubstr("certificate has expired")));
  EXPECT_THAT(Check(-absl::Hours(24)),
              HasStatus(StatusCode::kFailedPrecondition, HasSubstr("not yet valid")));
}

TEST_F(TlsFilesTest, NamesEveryFault) {
  test::Lab other;
  other.Run("server", "10.0.3.7");
  for (const char* name : {"server.key", "ca.pem"}) {
    std::filesystem::copy_file(other.server_folder() + "/" + name,
                               lab_.server_folder() + "/" + name,
                               std::filesystem::copy_options::overwrite_existing);
  }
  std::filesystem::permissions(lab_.server_folder() + "/server.key",
                               std::filesystem::perms::others_read,
                               std::filesystem::perm_options::add);
  EXPECT_THAT(Check(),
              HasStatus(StatusCode::kFailedPrecondition,
                        AllOf(HasSubstr("server.key is open to others"),
                              HasSubstr("server.key is not the key of the certificate"),
                              HasSubstr("server.pem is no good for a server"),
                              HasSubstr("deploy/lab-ca"))));
}

TEST_F(TlsFilesTest, RefusesMembersCertificatesForTheServer) {
  lab_.Run("member", "ada keeper");
  for (const auto& [from, to] :
       {std::pair("member.pem", "server.pem"), {"member.key", "server.key"}}) {
    std::filesystem::copy_file(lab_.member_folder("ada") + "/" + from,
                               lab_.server_folder() + "/" + to,
                               std::filesystem::copy_options::overwrite_existing);
  }
  EXPECT_THAT(Check(), HasStatus(StatusCode::kFailedPrecondition, HasSubstr("purpose")));
}

TEST_F(TlsFilesTest, NamesFilesThatAreMissing) {
  EXPECT_THAT(CheckTlsFiles(FilesOf("/nowhere"), absl::Now()),
              HasStatus(StatusCode::kFailedPrecondition,
                        AllOf(HasSubstr("cannot read /nowhere/server.pem"),
                              HasSubstr("cannot read /nowhere/server.key"),
                              HasSubstr("cannot read /nowhere/ca.pem"))));
}

}  // namespace
}  // namespace gaitshelf::service
