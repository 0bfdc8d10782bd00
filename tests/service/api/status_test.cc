#include "service/api/status.h"

#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "google/rpc/status.pb.h"

#include "tests/service/api/served_library.h"

namespace gaitshelf::service {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

v1::FieldViolation Fault(const std::string& field) {
  v1::FieldViolation violation;
  violation.set_field(field);
  violation.set_value("-1");
  violation.set_problem("must be more than 0");
  violation.set_mend("give a mass");
  return violation;
}

// gRPC's numbers are those of absl: https://grpc.io/docs/guides/status-codes/ and absl/status.
TEST(StatusTest, CodesKeepTheirNumbers) {
  const std::vector<std::pair<absl::StatusCode, grpc::StatusCode>> pairs = {
      {absl::StatusCode::kCancelled, grpc::StatusCode::CANCELLED},
      {absl::StatusCode::kUnknown, grpc::StatusCode::UNKNOWN},
      {absl::StatusCode::kInvalidArgument, grpc::StatusCode::INVALID_ARGUMENT},
      {absl::StatusCode::kDeadlineExceeded, grpc::StatusCode::DEADLINE_EXCEEDED},
      {absl::StatusCode::kNotFound, grpc::StatusCode::NOT_FOUND},
      {absl::StatusCode::kAlreadyExists, grpc::StatusCode::ALREADY_EXISTS},
      {absl::StatusCode::kPermissionDenied, grpc::StatusCode::PERMISSION_DENIED},
      {absl::StatusCode::kResourceExhausted, grpc::StatusCode::RESOURCE_EXHAUSTED},
      {absl::StatusCode::kFailedPrecondition, grpc::StatusCode::FAILED_PRECONDITION},
      {absl::StatusCode::kAborted, grpc::StatusCode::ABORTED},
      {absl::StatusCode::kOutOfRange, grpc::StatusCode::OUT_OF_RANGE},
      {absl::StatusCode::kUnimplemented, grpc::StatusCode::UNIMPLEMENTED},
      {absl::StatusCode::kInternal, grpc::StatusCode::INTERNAL},
      {absl::StatusCode::kUnavailable, grpc::StatusCode::UNAVAILABLE},
      {absl::StatusCode::kDataLoss, grpc::StatusCode::DATA_LOSS},
      {absl::StatusCode::kUnauthenticated, grpc::StatusCode::UNAUTHENTICATED}};
  for (const auto& [ours, theirs] : pairs) {
    EXPECT_EQ(ToGrpc(absl::Status(ours, "x")).error_code(), theirs);
  }
  EXPECT_TRUE(ToGrpc(absl::OkStatus()).ok());
}

TEST(StatusTest, CarriesEveryFault) {
  const grpc::Status status = ToGrpc(InvalidRequest({Fault("body.mass_kg"), Fault("legs[1].x")}));
  EXPECT_EQ(status.error_message(),
            "body.mass_kg is -1; must be more than 0; give a mass\n"
            "legs[1].x is -1; must be more than 0; give a mass");
  EXPECT_THAT(test::BadFieldsOf(status), ElementsAre("body.mass_kg", "legs[1].x"));
  EXPECT_EQ(test::DetailsOf(status).code(), grpc::StatusCode::INVALID_ARGUMENT);
}

// Clients allow 8 kB of headers by default; beyond, they see another error altogether.
TEST(StatusTest, StaysSmallWithVeryManyFaults) {
  std::vector<v1::FieldViolation> faults;
  for (int i = 0; i < 500; ++i) {
    faults.push_back(Fault("legs[" + std::to_string(i) + "].lumped.foot_mass_kg"));
  }
  const grpc::Status status = ToGrpc(InvalidRequest(faults));
  EXPECT_LT(status.error_message().size() + status.error_details().size() * 4 / 3, 6500u);
  const std::size_t named = test::BadFieldsOf(status).size() - 1;
  EXPECT_GT(named, 10u);
  EXPECT_THAT(status.error_message(), HasSubstr("and " + std::to_string(500 - named) + " more"));
}

// The same of what a request of a megabyte has errors repeat, percent-encoded
// (https://github.com/grpc/grpc/blob/master/doc/PROTOCOL-HTTP2.md, "Responses").
TEST(StatusTest, StaysSmallWithVeryLongValues) {
  const grpc::Status not_found = ToGrpc(absl::NotFoundError(std::string(1 << 20, 'x')));
  EXPECT_LT(not_found.error_message().size(), 4000u);
  EXPECT_THAT(not_found.error_message(), testing::EndsWith("x..."));
  std::string names;
  for (int i = 0; i < 10000; ++i) {
    names += "\xC3\xAB";
  }
  const std::string cut = ToGrpc(absl::NotFoundError(names)).error_message();
  EXPECT_LT(3 * cut.size(), 4000u);
  EXPECT_THAT(cut, testing::EndsWith("\xC3\xAB..."));  // no half a character

  v1::FieldViolation fault = Fault(std::string(5000, 'f'));
  fault.set_value(std::string(1 << 20, 'v'));
  const grpc::Status status = ToGrpc(InvalidRequest({fault, fault}));
  EXPECT_LT(status.error_message().size() + status.error_details().size() * 4 / 3, 7500u);
}

TEST(StatusTest, CarriesAReason) {
  const grpc::Status status = ToGrpc(WithReason(absl::NotFoundError("no gait"), "NO_GAIT_YET"));
  EXPECT_EQ(test::ReasonOf(status), "NO_GAIT_YET");
  EXPECT_TRUE(WithReason(absl::OkStatus(), "X").ok());
}

}  // namespace
}  // namespace gaitshelf::service
