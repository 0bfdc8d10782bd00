// Real handshakes are in tests/end_to_end/access_test.py.
#include "service/access/door.h"

#include <filesystem>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/time/time.h"
#include "tests/support/lab.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using absl::StatusCode;
using test::HasStatus;
using testing::HasSubstr;

TEST(DoorTest, OpensWithWhatLabCaMakesAndNotWithLess) {
  test::Lab lab;
  lab.Run("server", "10.0.3.7");
  EXPECT_THAT(Door::Open(lab.server_folder(), 8, {}).status(), test::IsOk());
  std::filesystem::remove(lab.File("server/members"));
  EXPECT_THAT(Door::Open(lab.server_folder(), 8, {}).status(),
              HasStatus(StatusCode::kFailedPrecondition, HasSubstr("/members")));
  std::filesystem::remove(lab.File("server/server.key"));
  EXPECT_THAT(Door::Open(lab.server_folder(), 8, {}).status(),
              HasStatus(StatusCode::kFailedPrecondition, HasSubstr("/server.key")));
}

std::string LineOf(const std::string& message) {
  return LogLine(GrpcEvent(message, LogLevel::kInfo), LogFormat::kLogfmt, absl::UnixEpoch());
}

// The messages are those of gRPC 1.51 with OpenSSL 3.0, as seen.
TEST(DoorTest, PutsRefusedHandshakesIntoWords) {
  const std::string failed = "Handshake failed with fatal error SSL_ERROR_SSL: error:0A0000";
  EXPECT_THAT(LineOf(failed + "86:SSL routines::certificate verify failed."),
              HasSubstr("of another authority, has ended"));
  EXPECT_THAT(LineOf(failed + "C7:SSL routines::peer did not return a certificate."),
              HasSubstr("level=warning event=\"client is refused at the handshake\" "
                        "reason=\"it has shown no certificate\" text=\"Handshake failed"));
  EXPECT_THAT(LineOf(failed + "18:SSL routines::tlsv1 alert unknown ca."),
              HasSubstr("does not accept this server's certificate"));
  EXPECT_THAT(LineOf(failed + "0B:SSL routines::wrong version number."),
              HasSubstr("does not speak TLS as we do"));
  EXPECT_THAT(LineOf("no address added"),
              HasSubstr("level=info event=\"gRPC complains\" text=\"no address added\""));
}

}  // namespace
}  // namespace gaitshelf::service
