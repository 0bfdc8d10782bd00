// A library in a temporary folder, served over real gRPC on a Unix socket, with stubs to call it.
#ifndef GAITSHELF_TESTS_SERVICE_API_SERVED_LIBRARY_H_
#define GAITSHELF_TESTS_SERVICE_API_SERVED_LIBRARY_H_

#include <atomic>
#include <filesystem>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <grpcpp/grpcpp.h>
#include <gtest/gtest.h>
#include <stdlib.h>

#include "gaitshelf/v1/job_service.grpc.pb.h"
#include "gaitshelf/v1/library_service.grpc.pb.h"
#include "gaitshelf/v1/model_service.grpc.pb.h"
#include "gaitshelf/v1/playback_service.grpc.pb.h"
#include "google/rpc/error_details.pb.h"
#include "google/rpc/status.pb.h"

#include "absl/strings/str_cat.h"
#include "service/api/server.h"
#include "service/library/sqlite_library.h"
#include "solver/robot/digest.h"
#include "tests/support/gaits.h"
#include "tests/support/log_lines.h"
#include "tests/support/robots.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::test {

class ServedLibrary : public testing::Test {
 protected:
  void SetUp() override {
    library_ = service::OpenSqliteLibrary(folder_.File("library.db"), library_options_).value();
    options_.listen = {absl::StrCat("unix:", folder_.File("socket"))};
    options_.library = library_.get();
    options_.wake_dispatcher = [this] { ++wake_count_; };
    options_.log = log_.log();
    server_ = service::StartServer(options_).value();
    channel_ = grpc::CreateChannel(server_->addresses()[0], grpc::InsecureChannelCredentials());
    library_stub_ = v1::LibraryService::NewStub(channel_);
    job_stub_ = v1::JobService::NewStub(channel_);
    playback_stub_ = v1::PlaybackService::NewStub(channel_);
    model_stub_ = v1::ModelService::NewStub(channel_);
  }

  // Stores the quadruped and the bench surface.
  void StoreDescriptions() {
    ASSERT_TRUE(library_->PutRobot(robot_, solver::RobotDigest(robot_), "ada").ok());
    ASSERT_TRUE(library_->PutSurface(surface_, solver::SurfaceDigest(surface_), "ada").ok());
  }

  v1::GaitOrder MakeOrder() const {
    v1::GaitOrder order;
    order.set_robot(robot_.name());
    order.set_surface(surface_.name());
    order.set_stride_frequency_hz(10.0);
    order.mutable_task()->mutable_advance()->set_advance_m(0.008);
    return order;
  }

  // Stores a gait for MakeOrder with the verdict.
  v1::Gait StoreGait(v1::Verdict verdict) {
    v1::Gait gait = MakeSineGait(robot_, {});
    gait.set_robot_digest(solver::RobotDigest(robot_));
    gait.set_surface_digest(solver::SurfaceDigest(surface_));
    gait.mutable_audit()->set_verdict(verdict);
    if (verdict == v1::VERDICT_FAILED) {
      gait.mutable_audit()->add_reasons("it fell over");
    }
    const std::string key =
        solver::OrderKey(gait.robot_digest(), gait.surface_digest(), MakeOrder());
    EXPECT_TRUE(library_->InsertGait(gait, key).ok());
    return gait;
  }

  TemporaryFolder folder_;
  service::SqliteLibraryOptions library_options_;
  service::ServerOptions options_;
  v1::Robot robot_ = MakeQuadruped();
  v1::Surface surface_ = MakeSurface(0.5);
  std::atomic<int> wake_count_ = 0;
  LogLines log_;
  std::unique_ptr<service::Library> library_;
  std::unique_ptr<service::Server> server_;
  std::shared_ptr<grpc::Channel> channel_;
  std::unique_ptr<v1::LibraryService::Stub> library_stub_;
  std::unique_ptr<v1::JobService::Stub> job_stub_;
  std::unique_ptr<v1::PlaybackService::Stub> playback_stub_;
  std::unique_ptr<v1::ModelService::Stub> model_stub_;
};

inline google::rpc::Status DetailsOf(const grpc::Status& status) {
  google::rpc::Status details;
  EXPECT_TRUE(details.ParseFromString(status.error_details()));
  return details;
}

// Names of the fields in the google.rpc.BadRequest of a status.
inline std::vector<std::string> BadFieldsOf(const grpc::Status& status) {
  std::vector<std::string> fields;
  const google::rpc::Status details = DetailsOf(status);
  for (const google::protobuf::Any& detail : details.details()) {
    google::rpc::BadRequest bad_request;
    if (detail.UnpackTo(&bad_request)) {
      for (const auto& violation : bad_request.field_violations()) {
        EXPECT_FALSE(violation.description().empty());
        fields.push_back(violation.field());
      }
    }
  }
  return fields;
}

// Reason in the google.rpc.ErrorInfo of a status; empty without one.
inline std::string ReasonOf(const grpc::Status& status) {
  const google::rpc::Status details = DetailsOf(status);
  for (const google::protobuf::Any& detail : details.details()) {
    google::rpc::ErrorInfo info;
    if (detail.UnpackTo(&info)) {
      EXPECT_EQ(info.domain(), "gaitshelf");
      return info.reason();
    }
  }
  return "";
}

MATCHER_P2(IsError, code, message, "is a gRPC error with the code and a message that matches") {
  *result_listener << "code " << arg.error_code() << ": " << arg.error_message();
  return arg.error_code() == code &&
         testing::ExplainMatchResult(message, arg.error_message(), result_listener);
}

MATCHER(IsGrpcOk, "is OK") {
  *result_listener << "code " << arg.error_code() << ": " << arg.error_message();
  return arg.ok();
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SERVICE_API_SERVED_LIBRARY_H_
