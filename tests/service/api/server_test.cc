#include "service/api/server.h"

#include <chrono>
#include <filesystem>
#include <string>
#include <thread>

#include <gmock/gmock.h>
#include <grpcpp/generic/generic_stub.h>
#include <gtest/gtest.h>

#include "gaitshelf/v1/job_service.grpc.pb.h"

#include "tests/service/api/served_library.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using grpc::StatusCode;
using test::HasStatus;
using test::IsError;
using test::IsGrpcOk;
using testing::HasSubstr;
using testing::StartsWith;

class ServerTest : public test::ServedLibrary {
 protected:
  absl::StatusOr<std::unique_ptr<Server>> StartSecond(const std::string& listen) {
    ServerOptions options;
    options.listen = {listen};
    options.library = library_.get();
    return StartServer(options);
  }

  bool IsServed(const std::shared_ptr<grpc::Channel>& channel) {
    grpc::ClientContext context;
    context.set_deadline(std::chrono::system_clock::now() + std::chrono::seconds(5));
    v1::ListRobotsResponse response;
    return v1::LibraryService::NewStub(channel)
        ->ListRobots(&context, v1::ListRobotsRequest(), &response)
        .ok();
  }

  // Sends bytes to a method and returns the bytes of its first answer, for services whose messages
  // are not at hand here.
  std::string CallRaw(const std::string& method, const std::string& request) {
    grpc::ClientContext context;
    context.set_deadline(std::chrono::system_clock::now() + std::chrono::seconds(5));
    grpc::CompletionQueue queue;
    grpc::GenericStub stub(channel_);
    const auto call = stub.PrepareCall(&context, method, &queue);
    void* tag = nullptr;
    bool is_ok = false;
    const auto next = [&] { return queue.Next(&tag, &is_ok) && is_ok; };
    call->StartCall(nullptr);
    next();
    const grpc::Slice slice(request);
    call->WriteLast(grpc::ByteBuffer(&slice, 1), grpc::WriteOptions(), nullptr);
    next();
    grpc::ByteBuffer answer;
    call->Read(&answer, nullptr);
    if (!next()) {
      return "no answer";
    }
    grpc::Slice bytes;
    EXPECT_TRUE(answer.DumpToSingleSlice(&bytes).ok());
    grpc::Status status;
    call->Finish(&status, nullptr);
    next();
    return std::string(bytes.begin(), bytes.end());
  }
};

TEST_F(ServerTest, RefusesASecondServerOnTheSameSocket) {
  EXPECT_THAT(StartSecond(server_->addresses()[0]).status(),
              HasStatus(absl::StatusCode::kAlreadyExists, HasSubstr("another server")));
  EXPECT_TRUE(IsServed(channel_));
  server_->Stop();
  EXPECT_THAT(StartSecond(server_->addresses()[0]).status(), test::IsOk());
}

TEST_F(ServerTest, RefusesASecondServerOnTheSamePort) {
  const auto first = StartSecond("127.0.0.1:0");
  ASSERT_THAT(first.status(), test::IsOk());
  const std::string address = (*first)->addresses()[0];
  EXPECT_THAT(address, testing::Not(StartsWith("127.0.0.1:0")));
  EXPECT_THAT(StartSecond(address).status(),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("cannot listen")));
  EXPECT_TRUE(IsServed(grpc::CreateChannel(address, grpc::InsecureChannelCredentials())));
}

TEST_F(ServerTest, RefusesAddressesThatOthersCanReach) {
  for (const char* address : {"0.0.0.0:0", "[::]:0", "192.168.0.1:0"}) {
    EXPECT_THAT(StartSecond(address).status(),
                HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("this machine only")));
  }
  ServerOptions options;
  options.library = library_.get();
  EXPECT_THAT(StartServer(options).status(),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("listen is missing")));
}

TEST_F(ServerTest, RefusesAFolderForTlsThatDoesNoGood) {
  ServerOptions options;
  options.listen = {"0.0.0.0:0"};
  options.tls_folder = folder_.File("none");
  options.library = library_.get();
  EXPECT_THAT(StartServer(options).status(),
              HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("none/server.key")));
}

TEST_F(ServerTest, TakesOverTheSocketOfADeadServer) {
  // A socket file without a lock is what kill -9 leaves.
  const std::string path = folder_.File("old");
  {
    const auto first = StartSecond("unix:" + path);
    ASSERT_THAT(first.status(), test::IsOk());
    std::filesystem::create_hard_link(path, folder_.File("kept"));
  }
  std::filesystem::rename(folder_.File("kept"), path);
  const auto second = StartSecond("unix:" + path);
  ASSERT_THAT(second.status(), test::IsOk());
  EXPECT_TRUE(IsServed(grpc::CreateChannel("unix:" + path, grpc::InsecureChannelCredentials())));
}

TEST_F(ServerTest, SocketIsForItsOwnerAlone) {
  EXPECT_EQ(std::filesystem::status(folder_.File("socket")).permissions() &
                (std::filesystem::perms::group_all | std::filesystem::perms::others_all),
            std::filesystem::perms::none);
}

// grpc.health.v1 and grpc.reflection.v1alpha as their public definitions say; the messages are
// written by hand. Health: status SERVING is field 1 with value 1.
TEST_F(ServerTest, AnswersHealthChecks) {
  EXPECT_EQ(CallRaw("/grpc.health.v1.Health/Check", ""), std::string("\x08\x01"));
}

TEST_F(ServerTest, AnswersReflection) {
  // ServerReflectionRequest: list_services, field 7, a string.
  const std::string answer =
      CallRaw("/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo",
              std::string("\x3a\x01*", 3));
  for (const char* service : {"LibraryService", "JobService", "PlaybackService", "ModelService"}) {
    EXPECT_THAT(answer, HasSubstr(std::string("gaitshelf.v1.") + service));
  }
}

TEST_F(ServerTest, RefusesVeryLargeRequests) {
  v1::PutRobotRequest request;
  request.mutable_robot()->set_title(std::string(2 << 20, 'x'));
  v1::PutRobotResponse response;
  grpc::ClientContext context;
  EXPECT_THAT(library_stub_->PutRobot(&context, request, &response),
              IsError(StatusCode::RESOURCE_EXHAUSTED, HasSubstr("larger than max")));
}

TEST_F(ServerTest, StopsSoonWhileAJobIsFollowed) {
  StoreDescriptions();
  v1::OrderGaitRequest order;
  *order.mutable_order() = MakeOrder();
  v1::OrderGaitResponse ordered;
  grpc::ClientContext order_context;
  ASSERT_THAT(job_stub_->OrderGait(&order_context, order, &ordered), IsGrpcOk());
  v1::WatchJobRequest watch;
  watch.set_name(ordered.job().name());
  grpc::ClientContext context;
  const auto reader = job_stub_->WatchJob(&context, watch);
  v1::WatchJobResponse response;
  ASSERT_TRUE(reader->Read(&response));
  const auto start = std::chrono::steady_clock::now();
  server_->Stop();
  EXPECT_LT(std::chrono::steady_clock::now() - start, std::chrono::seconds(2));
  EXPECT_FALSE(reader->Read(&response));
  EXPECT_THAT(reader->Finish(), IsError(StatusCode::UNAVAILABLE, HasSubstr("the server stops")));
  server_->Stop();  // again does no harm
}

}  // namespace
}  // namespace gaitshelf::service
