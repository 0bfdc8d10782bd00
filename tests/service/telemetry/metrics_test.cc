#include "service/telemetry/metrics.h"

#include <cstdint>
#include <string>

#include <arpa/inet.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include "absl/strings/str_cat.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using testing::AllOf;
using testing::HasSubstr;

// Asks over HTTP and returns everything that comes back.
std::string Get(int port, const std::string& path) {
  const int connection = socket(AF_INET, SOCK_STREAM, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_port = htons(static_cast<std::uint16_t>(port));
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  EXPECT_EQ(connect(connection, reinterpret_cast<const sockaddr*>(&address), sizeof address), 0);
  const std::string request = "GET " + path + " HTTP/1.0\r\n\r\n";
  EXPECT_EQ(write(connection, request.data(), request.size()),
            static_cast<ssize_t>(request.size()));
  std::string answer;
  char bytes[4096];
  for (ssize_t count = 0; (count = read(connection, bytes, sizeof bytes)) > 0;) {
    answer.append(bytes, static_cast<std::size_t>(count));
  }
  close(connection);
  return answer;
}

MetricsSources Sources(CallMeter* meter) {
  return {.condition =
              [] {
                Condition condition;
                condition.is_library_reachable = true;
                condition.counts.gaits = 12;
                condition.counts.queued_jobs = 3;
                condition.free_disk_bytes = 4096;
                return condition;
              },
          .calls = [meter] { return meter->Read(); }};
}

// The form is Prometheus' text format: NAME{LABEL="VALUE"} NUMBER, a line each.
TEST(MetricsTest, ServesWhatIsTrueAtTheScrape) {
  CallMeter meter;
  const auto metrics = Metrics::Serve("127.0.0.1:0", Sources(&meter));
  ASSERT_THAT(metrics.status(), test::IsOk());
  EXPECT_THAT(Get((*metrics)->port(), "/metrics"),
              AllOf(HasSubstr("\ngaitshelf_well 1"),
                    HasSubstr("\ngaitshelf_library_gaits 12"),
                    HasSubstr("\ngaitshelf_open_jobs{state=\"queued\"} 3"),
                    HasSubstr("\ngaitshelf_disk_free_bytes 4096"),
                    testing::Not(HasSubstr("GetGait"))));
  const std::string call = "LibraryService/GetGait";
  meter.Begin(call);
  meter.End(call, 5, 0.002);
  const std::string bucket = "\ngaitshelf_call_seconds_bucket{call=\"" + call + "\",le=\"";
  EXPECT_THAT(
      Get((*metrics)->port(), "/metrics"),
      AllOf(HasSubstr("\ngaitshelf_calls_total{call=\"" + call + "\",code=\"NOT_FOUND\"} 1"),
            HasSubstr("\ngaitshelf_calls_running{call=\"" + call + "\"} 0"),
            HasSubstr(bucket + "0.001\"} 0"),
            HasSubstr(bucket + "0.003\"} 1"),
            HasSubstr(bucket + "+Inf\"} 1"),
            HasSubstr("\ngaitshelf_call_seconds_count{call=\"" + call + "\"} 1")));
}

TEST(MetricsTest, RefusesAPortThatIsTaken) {
  CallMeter meter;
  const auto first = Metrics::Serve("127.0.0.1:0", Sources(&meter));
  ASSERT_THAT(first.status(), test::IsOk());
  EXPECT_THAT(
      Metrics::Serve(absl::StrCat("127.0.0.1:", (*first)->port()), Sources(&meter)).status(),
      test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("cannot serve metrics")));
}

}  // namespace
}  // namespace gaitshelf::service
