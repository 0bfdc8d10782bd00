// Covers clients/cli/json.cc
#include "clients/cli/server_error.h"

#include <string>

#include <gmock/gmock.h>
#include <google/protobuf/util/json_util.h>
#include <google/rpc/error_details.pb.h>
#include <google/rpc/status.pb.h>
#include <gtest/gtest.h>

#include "gaitshelf/v1/job_service.pb.h"

#include "clients/cli/exit_code.h"
#include "clients/cli/json.h"

namespace gaitshelf::client {
namespace {

using testing::HasSubstr;
using testing::Not;

grpc::Status TwoFaults() {
  google::rpc::BadRequest bad_request;
  for (const char* field : {"body.mass_kg", "legs[1].name"}) {
    auto* violation = bad_request.add_field_violations();
    violation->set_field(field);
    violation->set_description("is wrong; mend it");
  }
  google::rpc::Status rich;
  rich.set_code(3);
  rich.add_details()->PackFrom(bad_request);
  return {grpc::StatusCode::INVALID_ARGUMENT, "first\nsecond", rich.SerializeAsString()};
}

TEST(ServerErrorTest, PrintsEachFaultOnItsOwnLine) {
  const Failure failure = FromServer(TwoFaults(), "unix:/x");
  EXPECT_EQ(failure.exit_code, kExitUsage);
  EXPECT_EQ(Describe(failure, false),
            "gaitshelf: the request has 2 faults\n"
            "  body.mass_kg: is wrong; mend it\n"
            "  legs[1].name: is wrong; mend it\n");
}

// gRPC itself says nothing then.
TEST(ServerErrorTest, SaysThatAServerIsOlder) {
  const Failure failure = FromServer({grpc::StatusCode::UNIMPLEMENTED, ""}, "unix:/x");
  EXPECT_EQ(failure.exit_code, kExitError);
  EXPECT_THAT(failure.message, HasSubstr("older than this command"));
  // A server says so of a call that its library has other tools for.
  EXPECT_EQ(FromServer({grpc::StatusCode::UNIMPLEMENTED, "use pg_dump"}, "unix:/x").message,
            "use pg_dump");
}

TEST(ServerErrorTest, PrintsFaultsAsJson) {
  const std::string text = Describe(FromServer(TwoFaults(), "unix:/x"), true);
  EXPECT_THAT(text, HasSubstr("\"code\": \"INVALID_ARGUMENT\""));
  EXPECT_THAT(text, HasSubstr("\"field\": \"legs[1].name\""));
}

TEST(ServerErrorTest, WritesJsonThatParsesBackWhateverTheTextHolds) {
  const std::string awkward = "quote \" backslash \\ tab \t umlaut \xc3\xa4 end";
  // Any message that takes unknown fields shows whether the text is JSON at all.
  v1::Job job;
  google::protobuf::util::JsonParseOptions options;
  options.ignore_unknown_fields = true;
  for (const Failure& failure : {Failure{1, "INTERNAL", awkward, {}},
                                 Failure{2, "INVALID_ARGUMENT", "x", {{awkward, awkward}}}}) {
    const std::string text = Describe(failure, true);
    EXPECT_TRUE(google::protobuf::util::JsonStringToMessage(text, &job, options).ok()) << text;
    EXPECT_THAT(text, HasSubstr("quote \\\" backslash \\\\ tab \\t umlaut"));
  }
}

TEST(ServerErrorTest, NamesTheAddressWhenNobodyAnswers) {
  const Failure failure =
      FromServer({grpc::StatusCode::UNAVAILABLE, "refused"}, "unix:/run/x.sock");
  EXPECT_EQ(failure.exit_code, kExitError);
  EXPECT_THAT(failure.message, HasSubstr("unix:/run/x.sock"));
}

TEST(ServerErrorTest, GivesEachKindOfErrorItsExitCode) {
  const auto code_of = [](grpc::StatusCode code) { return FromServer({code, "x"}, "").exit_code; };
  EXPECT_EQ(code_of(grpc::StatusCode::INVALID_ARGUMENT), kExitUsage);
  EXPECT_EQ(code_of(grpc::StatusCode::NOT_FOUND), kExitNotFound);
  EXPECT_EQ(code_of(grpc::StatusCode::INTERNAL), kExitError);
  EXPECT_EQ(code_of(grpc::StatusCode::FAILED_PRECONDITION), kExitError);
  EXPECT_EQ(code_of(grpc::StatusCode::RESOURCE_EXHAUSTED), kExitError);
}

TEST(ServerErrorTest, SurvivesDetailsThatAreNoStatus) {
  const Failure failure = FromServer({grpc::StatusCode::INTERNAL, "fault", "\xff\xff garbage"}, "");
  EXPECT_EQ(failure.message, "fault");
  EXPECT_TRUE(failure.violations.empty());
}

TEST(ServerErrorTest, SplitsAMessageOfSeveralLines) {
  const Failure failure = FromStatus(absl::InvalidArgumentError("one\ntwo"));
  EXPECT_EQ(Describe(failure, false), "gaitshelf: 2 faults\n  one\n  two\n");
  EXPECT_EQ(Describe(FromStatus(absl::InvalidArgumentError("one")), false), "gaitshelf: one\n");
}

TEST(JsonTest, KeepsFieldNamesAndPlainFields) {
  v1::OrderGaitResponse response;
  response.mutable_job()->set_name("j-1");
  const std::string text = ToJson(response);
  EXPECT_THAT(text, HasSubstr("\"failure_reason\": \"\""));
  EXPECT_THAT(text, HasSubstr("\"joined\": false"));
  EXPECT_THAT(text, Not(HasSubstr("failureReason")));
  const std::string line = ToJsonLine(response);
  EXPECT_EQ(line.find('\n'), line.size() - 1);
}

}  // namespace
}  // namespace gaitshelf::client
