// A small gRPC server with scripted answers on a Unix socket, against which tests run command
// lines.
#ifndef GAITSHELF_TESTS_CLIENTS_CLI_SCRIPTED_SERVER_H_
#define GAITSHELF_TESTS_CLIENTS_CLI_SCRIPTED_SERVER_H_

#include <atomic>
#include <cstdio>
#include <fstream>
#include <memory>
#include <sstream>
#include <string>
#include <vector>

#include <grpcpp/server.h>
#include <grpcpp/server_builder.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include "gaitshelf/v1/calibration_service.grpc.pb.h"
#include "gaitshelf/v1/job_service.grpc.pb.h"
#include "gaitshelf/v1/library_service.grpc.pb.h"
#include "gaitshelf/v1/playback_service.grpc.pb.h"
#include "gaitshelf/v1/trial_service.grpc.pb.h"

#include "clients/cli/command.h"
#include "clients/cli/completion.h"
#include "tests/clients/cli/scripted_model.h"
#include "tests/clients/cli/shared.h"

namespace gaitshelf::client {

class ScriptedJobs : public v1::JobService::Service {
 public:
  grpc::Status OrderGait(grpc::ServerContext*,
                         const v1::OrderGaitRequest* request,
                         v1::OrderGaitResponse* response) override {
    last_order.Set(*request);
    if (request->order().surface() == "known") {
      response->mutable_gait()->set_name("g-known");
      *response->mutable_gait()->mutable_task() = request->order().task();
      response->mutable_gait()->set_advance_m(0.009);
      response->mutable_gait()->set_replayed_advance_m(0.0001);
    } else {
      response->mutable_job()->set_name("j-1");
    }
    return grpc::Status::OK;
  }

  grpc::Status WatchJob(grpc::ServerContext*,
                        const v1::WatchJobRequest* request,
                        grpc::ServerWriter<v1::WatchJobResponse>* writer) override {
    if (request->name() == "j-404") {
      return {grpc::StatusCode::NOT_FOUND, "no job 'j-404'"};
    }
    v1::WatchJobResponse response;
    v1::Job& job = *response.mutable_job();
    job.set_name(request->name());
    job.set_state(v1::JOB_STATE_RUNNING);
    job.mutable_progress()->set_violation_ratio(1e-3);
    writer->Write(response);
    if (++watch_count == break_at) {
      return {grpc::StatusCode::UNAVAILABLE, "the server stops"};
    }
    job.set_state(request->name() == "j-1" ? v1::JOB_STATE_DONE : v1::JOB_STATE_FAILED);
    if (job.state() == v1::JOB_STATE_FAILED) {
      job.set_failure_reason("25 mm is beyond the reach");
      job.set_gait("g-partial");
    } else {
      response.mutable_gait()->set_name("g-new");
      response.mutable_gait()->set_verdict(v1::VERDICT_GOOD);
    }
    writer->Write(response);
    return grpc::Status::OK;
  }

  grpc::Status ListJobs(grpc::ServerContext*,
                        const v1::ListJobsRequest* request,
                        v1::ListJobsResponse* response) override {
    // Two pages of one job each.
    v1::Job& job = *response->add_jobs();
    job.set_name(request->page_token().empty() ? "j-2" : "j-1");
    job.set_state(v1::JOB_STATE_RUNNING);
    job.mutable_progress()->set_done_ratio(0.42);
    response->set_next_page_token(request->page_token().empty() ? "more" : "");
    return grpc::Status::OK;
  }

  grpc::Status CancelJob(grpc::ServerContext*,
                         const v1::CancelJobRequest* request,
                         v1::Job* job) override {
    if (request->name() == "j-done") {
      return {grpc::StatusCode::FAILED_PRECONDITION, "j-done has ended"};
    }
    job->set_name(request->name());
    job->set_state(request->name() == "j-busy" ? v1::JOB_STATE_RUNNING : v1::JOB_STATE_CANCELLED);
    return grpc::Status::OK;
  }

  Shared<v1::OrderGaitRequest> last_order;
  std::atomic<int> watch_count{0};
  std::atomic<int> break_at{0};
};

class ScriptedLibrary : public v1::LibraryService::Service {
 public:
  grpc::Status PutSurface(grpc::ServerContext*,
                          const v1::PutSurfaceRequest* request,
                          v1::PutSurfaceResponse* response) override {
    *response->mutable_stored()->mutable_surface() = request->surface();
    response->mutable_stored()->set_version(2);
    response->mutable_stored()->set_digest("0123456789abcdef");
    response->set_is_new_version(true);
    return grpc::Status::OK;
  }
  grpc::Status ListRobots(grpc::ServerContext*,
                          const v1::ListRobotsRequest*,
                          v1::ListRobotsResponse*) override {
    return grpc::Status::OK;
  }
  grpc::Status GetGait(grpc::ServerContext*,
                       const v1::GetGaitRequest* request,
                       v1::Gait* gait) override {
    if (request->name() != "g-known") {
      return {grpc::StatusCode::NOT_FOUND, "no gait '" + request->name() + "'"};
    }
    gait->set_name("g-known");
    return grpc::Status::OK;
  }
  grpc::Status ListSurfaces(grpc::ServerContext*,
                            const v1::ListSurfacesRequest*,
                            v1::ListSurfacesResponse* response) override {
    for (const char* name : {"duct-steel", "liner-felt"}) {
      response->add_surfaces()->mutable_surface()->set_name(name);
    }
    return grpc::Status::OK;
  }
  grpc::Status ListGaits(grpc::ServerContext*,
                         const v1::ListGaitsRequest*,
                         v1::ListGaitsResponse* response) override {
    response->add_gaits()->set_name("g-known");
    response->add_gaits()->set_name("g-other");
    return grpc::Status::OK;
  }
};

class ScriptedTrialList : public v1::TrialService::Service {
 public:
  grpc::Status ListTrials(grpc::ServerContext*,
                          const v1::ListTrialsRequest*,
                          v1::ListTrialsResponse* response) override {
    response->add_trials()->set_name("t-1");
    return grpc::Status::OK;
  }
};

class ScriptedCalibrationList : public v1::CalibrationService::Service {
 public:
  grpc::Status ListCalibrations(grpc::ServerContext*,
                                const v1::ListCalibrationsRequest*,
                                v1::ListCalibrationsResponse* response) override {
    response->add_calibrations()->set_name("c-1");
    return grpc::Status::OK;
  }
};

class ScriptedPlayback : public v1::PlaybackService::Service {
 public:
  grpc::Status StreamSetpoints(grpc::ServerContext*,
                               const v1::StreamSetpointsRequest* request,
                               grpc::ServerWriter<v1::SetpointBlock>* writer) override {
    last_request.Set(*request);
    ++stream_count;
    for (int first = 0; first < 4; first += 2) {
      v1::SetpointBlock block;
      block.set_first_sample(request->gait() == "g-gap" ? 2 * first : first);
      block.set_sample_count(2);
      block.set_sample_period_s(0.001);
      for (int i = 0; i < 2; ++i) {
        block.add_phase_ratio(0.5);
        for (int axis = 0; axis < 3; ++axis) {
          block.add_body_position_m(axis);
          block.add_body_attitude_rad(axis);
        }
      }
      writer->Write(block);
    }
    return grpc::Status::OK;
  }

  // A table of one leg with one foot: sample s has the values s, -s and so on, in mm and V.
  grpc::Status SampleGait(grpc::ServerContext*,
                          const v1::SampleGaitRequest* request,
                          v1::SetpointBlock* block) override {
    last_sample_request.Set(*request);
    block->set_sample_count(request->sample_count());
    block->set_sample_period_s(0.001);
    block->add_leg_names("left");
    block->add_foot_names("left");
    for (int i = 0; i < request->sample_count(); ++i) {
      for (const double sign : {1.0, -1.0}) {
        block->add_leg_position_m(sign * i * 1e-3);
        block->add_leg_rate_m_per_s(0.0);
        block->add_voltage_v(sign * i);
      }
      block->add_contact(i % 2);
      block->add_phase_ratio(1.0 * i / request->sample_count());
      for (int axis = 0; axis < 3; ++axis) {
        block->add_body_position_m(axis);
        block->add_body_attitude_rad(axis);
      }
    }
    return grpc::Status::OK;
  }

  Shared<v1::StreamSetpointsRequest> last_request;
  Shared<v1::SampleGaitRequest> last_sample_request;
  std::atomic<int> stream_count{0};
};

class ScriptedServer : public testing::Test {
 protected:
  virtual std::vector<grpc::Service*> Services() {
    return {&jobs_, &library_, &model_, &playback_, &trials_, &calibrations_};
  }

  void SetUp() override {
    path_ = "/tmp/gaitshelf_command_test_" + std::to_string(getpid());
    grpc::ServerBuilder builder;
    builder.AddListeningPort("unix:" + path_ + ".sock", grpc::InsecureServerCredentials());
    for (grpc::Service* service : Services()) {
      builder.RegisterService(service);
    }
    server_ = builder.BuildAndStart();
    ASSERT_NE(server_, nullptr);
  }

  void TearDown() override {
    server_->Shutdown();
    for (const char* ending : {".sock", ".csv", ".csv.part", ".h", ".surface.textproto"}) {
      std::remove((path_ + ending).c_str());
    }
  }

  // Runs a command line; its output is in out_ and err_.
  int Run(std::vector<std::string> words, const std::string& typed = "") {
    words.insert(words.end(), {"--server", "unix:" + path_ + ".sock"});
    std::istringstream in(typed);
    std::ostringstream out, err;
    Console console{in, out, err, false, false, nullptr};
    const int code = RunCommand(words, console);
    out_ = out.str();
    err_ = err.str();
    return code;
  }

  // What the completion of a command line prints; its last word is what is typed of it.
  std::string RunCompletion(std::vector<std::string> words) {
    // Behind the verb, which is one word here.
    words.insert(words.begin() + 1, {"--server", "unix:" + path_ + ".sock"});
    words.insert(words.begin(), kCompletionRequest);
    std::istringstream in;
    std::ostringstream out, err;
    Console console{in, out, err, false, false, nullptr};
    RunCommand(words, console);
    return out.str();
  }

  std::string WriteSurface(const std::string& text) {
    std::ofstream(path_ + ".surface.textproto") << text;
    return path_ + ".surface.textproto";
  }

  static std::vector<std::string> Order(const std::string& surface) {
    return {"order",
            "--robot",
            "weevil",
            "--surface",
            surface,
            "--frequency",
            "12Hz",
            "--advance",
            "9mm"};
  }

  std::string path_;
  ScriptedJobs jobs_;
  ScriptedLibrary library_;
  ScriptedModel model_;
  ScriptedPlayback playback_;
  ScriptedTrialList trials_;
  ScriptedCalibrationList calibrations_;
  std::unique_ptr<grpc::Server> server_;
  std::string out_;
  std::string err_;
};

}  // namespace gaitshelf::client

#endif  // GAITSHELF_TESTS_CLIENTS_CLI_SCRIPTED_SERVER_H_
