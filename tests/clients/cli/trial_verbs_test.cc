// Covers clients/cli/trial_pose_verb.cc
// Covers clients/cli/trial_verbs.cc
#include <cstdio>
#include <fstream>
#include <memory>
#include <mutex>
#include <sstream>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <grpcpp/grpcpp.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include "gaitshelf/v1/trial_service.grpc.pb.h"

#include "clients/cli/command.h"
#include "clients/cli/exit_code.h"

namespace gaitshelf::client {
namespace {

using testing::AllOf;
using testing::HasSubstr;

// Keeps what it was sent and answers with a name.
class ScriptedTrials : public v1::TrialService::Service {
 public:
  grpc::Status UploadTrial(grpc::ServerContext* /*context*/,
                           grpc::ServerReader<v1::UploadTrialRequest>* reader,
                           v1::UploadTrialResponse* response) override {
    const std::lock_guard<std::mutex> lock(mutex_);
    v1::UploadTrialRequest request;
    while (reader->Read(&request)) {
      requests_.push_back(request);
    }
    *response->mutable_trial() = requests_[0].trial();
    response->mutable_trial()->set_name("t-1");
    response->set_is_new(true);
    return grpc::Status::OK;
  }
  grpc::Status GetTrial(grpc::ServerContext* /*context*/,
                        const v1::GetTrialRequest* request,
                        v1::Trial* response) override {
    if (request->name() != "t-1") {
      return {grpc::StatusCode::NOT_FOUND, "no trial '" + request->name() + "'"};
    }
    response->set_name("t-1");
    return grpc::Status::OK;
  }
  grpc::Status ListTrials(grpc::ServerContext* /*context*/,
                          const v1::ListTrialsRequest* request,
                          v1::ListTrialsResponse* response) override {
    response->add_trials()->set_name(request->page_token().empty() ? "t-2" : "t-1");
    response->set_next_page_token(request->page_token().empty() ? "2" : "");
    return grpc::Status::OK;
  }
  grpc::Status AnalyseTrial(grpc::ServerContext* /*context*/,
                            const v1::AnalyseTrialRequest* request,
                            v1::AnalyseTrialResponse* response) override {
    response->mutable_analysis()->set_trial(request->name());
    *response->mutable_analysis()->mutable_options() = request->options();
    return grpc::Status::OK;
  }
  grpc::Status CompareTrial(grpc::ServerContext* /*context*/,
                            const v1::CompareTrialRequest* request,
                            v1::CompareTrialResponse* response) override {
    response->mutable_comparison()->mutable_analysis()->set_trial(request->name());
    response->mutable_comparison()->set_stride_difference_m(-0.001);
    return grpc::Status::OK;
  }

  grpc::Status StreamTrialPose(grpc::ServerContext* /*context*/,
                               const v1::StreamTrialPoseRequest* request,
                               grpc::ServerWriter<v1::TrialPoseBlock>* writer) override {
    v1::TrialPoseBlock block;
    block.set_delay_s(request->delay_s());
    for (int i = 0; i < 2; ++i) {
      block.add_time_s(i / request->sample_rate_hz());
      for (const double value : {0.001 * i, -0.002, 0.011}) {
        block.add_body_position_m(value);
        block.add_body_attitude_rad(0.5);
      }
    }
    writer->Write(block);
    writer->Write(block);
    return request->name() == "t-1"
               ? grpc::Status::OK
               : grpc::Status(grpc::StatusCode::FAILED_PRECONDITION, "no \"phase\"");
  }

  std::vector<v1::UploadTrialRequest> requests() const {
    const std::lock_guard<std::mutex> lock(mutex_);
    return requests_;
  }

 private:
  mutable std::mutex mutex_;
  std::vector<v1::UploadTrialRequest> requests_;
};

class TrialVerbsTest : public testing::Test {
 protected:
  void SetUp() override {
    path_ = "/tmp/gaitshelf_trial_verbs_test_" + std::to_string(getpid());
    grpc::ServerBuilder builder;
    builder.AddListeningPort("unix:" + path_ + ".sock", grpc::InsecureServerCredentials());
    builder.RegisterService(&trials_);
    server_ = builder.BuildAndStart();
    ASSERT_NE(server_, nullptr);
  }
  void TearDown() override {
    server_->Shutdown();
    for (const char* ending : {".sock", ".csv", ".b.csv"}) {
      std::remove((path_ + ending).c_str());
    }
  }

  int Run(std::vector<std::string> words) {
    words.insert(words.begin(), "trial");
    words.insert(words.end(), {"--server", "unix:" + path_ + ".sock"});
    std::istringstream in;
    std::ostringstream out, err;
    Console console{in, out, err, false, false, nullptr};
    const int code = RunCommand(words, console);
    out_ = out.str();
    err_ = err.str();
    return code;
  }

  std::string path_;
  ScriptedTrials trials_;
  std::unique_ptr<grpc::Server> server_;
  std::string out_;
  std::string err_;
};

TEST_F(TrialVerbsTest, SendsLogsInBlocks) {
  {
    std::ofstream file(path_ + ".csv");
    file << "time [s],body x [mm]\n";
    for (int i = 0; i < 60000; ++i) {
      file << i << ",0.5\n";
    }
  }
  std::ofstream(path_ + ".b.csv") << "# clock: tracking\n# rate: 1kHz\nbody y [mm]\n1\n2\n";
  ASSERT_EQ(Run({"put",
                 path_ + ".csv",
                 path_ + ".b.csv",
                 "--gait",
                 "g-1",
                 "--frequency",
                 "12Hz",
                 "--measured",
                 "2026-11-28T15:30:00+01:00"}),
            kExitOk)
      << err_;
  EXPECT_EQ(out_, "t-1 (new)\n");
  const std::vector<v1::UploadTrialRequest> requests = trials_.requests();
  ASSERT_EQ(requests.size(), 4U);
  EXPECT_EQ(requests[0].trial().kind(), v1::TRIAL_KIND_GAIT);
  EXPECT_EQ(requests[0].trial().gait(), "g-1");
  EXPECT_EQ(requests[0].trial().stride_frequency_hz(), 12.0);
  // 14:30 UTC, by date(1).
  EXPECT_EQ(requests[0].trial().measure_time().seconds(), 1795876200);
  EXPECT_EQ(requests[0].trial().groups_size(), 2);
  EXPECT_EQ(requests[0].trial().groups(0).row_count(), 60000);
  EXPECT_EQ(requests[1].block().values_as_labelled_size(), 100000);
  EXPECT_EQ(requests[2].block().first_row(), 50000);
  EXPECT_EQ(requests[2].block().values_as_labelled_size(), 20000);
  EXPECT_EQ(requests[3].block().group_index(), 1);
}

TEST_F(TrialVerbsTest, TellsEveryFaultOfThePut) {
  std::ofstream(path_ + ".csv") << "time [s]\nnoon\n";
  EXPECT_EQ(Run({"put",
                 path_ + ".csv",
                 "--kind",
                 "dance",
                 "--frequency",
                 "12",
                 "--measured",
                 "2026-11-28 14:30"}),
            kExitUsage);
  EXPECT_THAT(err_,
              AllOf(HasSubstr("'dance' is no kind of trial; use one of gait, tilt"),
                    HasSubstr("--frequency"),
                    HasSubstr("--measured: '2026-11-28 14:30' is no date and time with its zone"),
                    HasSubstr("row 1 (line 2) column 'time [s]': 'noon'")));
  EXPECT_TRUE(trials_.requests().empty());
  EXPECT_EQ(Run({"put"}), kExitUsage);
  EXPECT_THAT(err_, HasSubstr("FILE... is missing"));
}

TEST_F(TrialVerbsTest, ListsShowsAnalysesAndCompares) {
  EXPECT_EQ(Run({"list"}), kExitOk);
  EXPECT_THAT(out_, AllOf(HasSubstr("t-2"), HasSubstr("t-1")));
  EXPECT_EQ(Run({"show", "t-1"}), kExitOk);
  EXPECT_THAT(out_, HasSubstr("t-1"));
  EXPECT_EQ(Run({"show", "t-9"}), kExitNotFound);
  EXPECT_EQ(Run({"analyse", "t-1", "--greatest-delay", "50ms", "--leave-out", "3", "--json"}),
            kExitOk);
  EXPECT_THAT(out_,
              AllOf(HasSubstr("\"greatest_delay_s\": 0.05"), HasSubstr("\"left_out_count\": 3")));
  EXPECT_EQ(Run({"analyse", "t-1", "--leave-out", "few"}), kExitUsage);
  EXPECT_EQ(Run({"compare", "t-1"}), kExitOk);
  EXPECT_THAT(out_, HasSubstr("stride less planned: -1.000 mm"));
  EXPECT_EQ(Run({"keep"}), kExitUsage);
  EXPECT_THAT(err_, HasSubstr("'trial' takes put FILE..."));
}

TEST_F(TrialVerbsTest, PrintsAnEstimatedPoseAsALog) {
  ASSERT_EQ(Run({"pose", "t-1", "--delay", "40ms", "--rate", "100Hz"}), kExitOk) << err_;
  EXPECT_EQ(out_,
            "# estimated pose; tracking 40 ms late\n"
            "time [s],body x [mm],body y [mm],body z [mm],body roll [rad],body pitch [rad],"
            "body yaw [rad]\n"
            "0,0.000000,-2.000000,11.000000,0.5000000,0.5000000,0.5000000\n"
            "0.01,1.000000,-2.000000,11.000000,0.5000000,0.5000000,0.5000000\n"
            "0,0.000000,-2.000000,11.000000,0.5000000,0.5000000,0.5000000\n"
            "0.01,1.000000,-2.000000,11.000000,0.5000000,0.5000000,0.5000000\n");
  ASSERT_EQ(Run({"pose", "t-1", "--delay", "40ms", "--rate", "100Hz", "--json"}), kExitOk);
  EXPECT_THAT(out_, HasSubstr("\"delay_s\": 0.04"));
  EXPECT_EQ(Run({"pose", "t-1", "--delay", "40mm", "--rate", "often"}), kExitUsage);
  EXPECT_THAT(err_, AllOf(HasSubstr("--delay: "), HasSubstr("--rate: ")));
  EXPECT_EQ(Run({"pose", "t-2", "--rate", "100Hz"}), kExitError);
  EXPECT_THAT(err_, HasSubstr("no \"phase\""));
}

}  // namespace
}  // namespace gaitshelf::client
