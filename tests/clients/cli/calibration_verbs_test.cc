// Covers clients/cli/calibration_text.cc
// Covers clients/cli/calibration_verbs.cc
// Covers clients/cli/replan_verb.cc
// Covers clients/cli/run_calibration.cc
#include <sstream>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <grpcpp/grpcpp.h>
#include <gtest/gtest.h>

#include "gaitshelf/v1/calibration_service.grpc.pb.h"
#include "gaitshelf/v1/trial_service.grpc.pb.h"

#include "absl/strings/str_cat.h"
#include "absl/strings/str_split.h"
#include "absl/strings/string_view.h"
#include "clients/cli/calibration_text.h"
#include "clients/cli/command.h"
#include "clients/cli/exit_code.h"
#include "tests/clients/cli/scripted_server.h"

namespace gaitshelf::client {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

v1::Calibration MakeCalibration() {
  v1::Calibration calibration;
  calibration.set_name("c-1");
  calibration.set_robot("weevil");
  calibration.set_surface("duct-steel");
  calibration.add_trials("t-1");
  v1::CalibrationEstimate& told = *calibration.add_estimates();
  told.set_parameter("front-left lift stiffness");
  told.set_unit("N/m");
  told.set_described_si(2.192);
  told.set_estimate_si(2.5123);
  told.set_lower_si(2.41);
  told.set_upper_si(2.61);
  told.set_is_told(true);
  for (const char* name : {"front-left lift gain", "front-left swing gain"}) {
    v1::CalibrationEstimate& untold = *calibration.add_estimates();
    untold.set_parameter(name);
    untold.set_reason("no bench test of the leg moves with it; it stays as described");
  }
  v1::CalibrationCorrelation& pair = *calibration.add_correlations();
  pair.set_parameter_a("front-left lift stiffness");
  pair.set_parameter_b("front-left mass");
  pair.set_correlation_ratio(0.99);
  v1::CalibrationFit& fit = *calibration.add_fits();
  fit.set_trial("t-1");
  fit.set_channel("front-left lift");
  fit.set_value_count(600);
  fit.set_residual_si(5e-6);
  fit.set_signal_si(1e-3);
  fit.set_unit("m");
  calibration.mutable_calibrated_robot()->set_name("weevil");
  calibration.set_calibrated_robot_digest("d-2");
  return calibration;
}

class ScriptedCalibrations : public v1::CalibrationService::Service {
 public:
  grpc::Status Calibrate(grpc::ServerContext* /*context*/,
                         const v1::CalibrateRequest* request,
                         grpc::ServerWriter<v1::CalibrateResponse>* writer) override {
    last_request.Set(*request);
    if (request->trials(0) == "t-404") {
      return {grpc::StatusCode::NOT_FOUND, "no trial 't-404'"};
    }
    v1::CalibrateResponse response;
    response.mutable_progress()->set_done_ratio(0.4);
    response.mutable_progress()->set_step("bench tests of front-left");
    writer->Write(response);
    *response.mutable_calibration() = MakeCalibration();
    if (request->trials(0) == "t-untold") {
      response.mutable_calibration()->clear_calibrated_robot();
    }
    writer->Write(response);
    return grpc::Status::OK;
  }
  grpc::Status GetCalibration(grpc::ServerContext* /*context*/,
                              const v1::GetCalibrationRequest* request,
                              v1::Calibration* response) override {
    *response = MakeCalibration();
    return request->name() == "c-1" ? grpc::Status::OK
                                    : grpc::Status(grpc::StatusCode::NOT_FOUND, "no such");
  }
  grpc::Status ListCalibrations(grpc::ServerContext* /*context*/,
                                const v1::ListCalibrationsRequest* request,
                                v1::ListCalibrationsResponse* response) override {
    *response->add_calibrations() = MakeCalibration();
    response->set_next_page_token(request->page_token().empty() ? "2" : "");
    return grpc::Status::OK;
  }
  grpc::Status AcceptCalibration(grpc::ServerContext* /*context*/,
                                 const v1::AcceptCalibrationRequest* request,
                                 v1::AcceptCalibrationResponse* response) override {
    accepted.Set(request->name());
    response->mutable_robot()->mutable_robot()->set_name("weevil");
    response->mutable_robot()->set_version(2);
    return grpc::Status::OK;
  }
  grpc::Status ReplayGait(grpc::ServerContext* /*context*/,
                          const v1::ReplayGaitRequest* request,
                          v1::ReplayGaitResponse* response) override {
    const bool is_new = request->gait() == "g-new";
    EXPECT_EQ(request->robot_digest(), "d-2");
    response->mutable_replay()->set_advance_m(is_new ? 0.0088 : 0.0080);
    return grpc::Status::OK;
  }

  Shared<v1::CalibrateRequest> last_request;
  Shared<std::string> accepted;
};

class GaitTrials : public v1::TrialService::Service {
 public:
  grpc::Status GetTrial(grpc::ServerContext* /*context*/,
                        const v1::GetTrialRequest* request,
                        v1::Trial* response) override {
    response->set_name(request->name());
    const bool is_bench = request->name() != "t-walk";
    response->set_kind(is_bench ? v1::TRIAL_KIND_RING_DOWN : v1::TRIAL_KIND_GAIT);
    response->set_gait(is_bench ? "" : "g-known");
    return grpc::Status::OK;
  }
  grpc::Status AnalyseTrial(grpc::ServerContext* /*context*/,
                            const v1::AnalyseTrialRequest* /*request*/,
                            v1::AnalyseTrialResponse* response) override {
    response->mutable_analysis()->mutable_stride_m()->set_mean_si(0.0081);
    response->mutable_analysis()->mutable_stride_m()->set_count(10);
    return grpc::Status::OK;
  }
};

class WalkingLibrary : public ScriptedLibrary {
 public:
  grpc::Status GetGait(grpc::ServerContext* context,
                       const v1::GetGaitRequest* request,
                       v1::Gait* gait) override {
    const bool is_hop = request->name() == "g-hop";
    v1::GetGaitRequest known = *request;
    known.set_name(is_hop ? "g-known" : request->name());
    grpc::Status status = ScriptedLibrary::GetGait(context, &known, gait);
    gait->set_name(request->name());
    gait->set_robot("weevil");
    gait->set_robot_digest("d-1");
    gait->set_surface("duct-steel");
    gait->set_surface_digest("s-1");
    gait->mutable_task()->mutable_advance()->set_advance_m(0.009);
    if (is_hop) {
      gait->mutable_task()->mutable_hop()->set_rise_m(0.01);
    }
    return status;
  }
};

class CalibrationVerbsTest : public ScriptedServer {
 protected:
  std::vector<grpc::Service*> Services() override {
    return {&jobs_, &walking_, &gait_trials_, &scripted_};
  }

  void ExpectWidth() const {
    std::istringstream lines(out_ + err_);
    for (std::string line; std::getline(lines, line);) {
      EXPECT_LE(line.size(), 80u) << line;
    }
  }

  WalkingLibrary walking_;
  GaitTrials gait_trials_;
  ScriptedCalibrations scripted_;
};

TEST_F(CalibrationVerbsTest, CalibratesAndLeavesTheCurrentVersionsAlone) {
  ASSERT_EQ(Run({"calibrate",
                 "t-1",
                 "t-2",
                 "--tilt-uncertainty",
                 "0.2deg",
                 "--force-uncertainty",
                 "0.01"}),
            kExitOk)
      << err_;
  const v1::CalibrateRequest request = scripted_.last_request.Get();
  EXPECT_THAT(request.trials(), testing::ElementsAre("t-1", "t-2"));
  EXPECT_NEAR(request.options().tilt_uncertainty_rad(), 0.00349066, 1e-8);
  EXPECT_EQ(request.options().force_uncertainty_ratio(), 0.01);
  EXPECT_THAT(err_,
              AllOf(HasSubstr("bench tests of front-left"),
                    HasSubstr("current version of robot weevil?"),
                    HasSubstr("nothing became current"),
                    HasSubstr("gaitshelf calibration accept c-1")));
  EXPECT_THAT(out_,
              AllOf(HasSubstr("front-left lift stiffness  N/m       2.192  2.512"),
                    HasSubstr("not told: front-left lift gain, front-left swing gain: no bench"),
                    HasSubstr("hard to tell apart: front-left lift stiffness, front-left mass")));
  ExpectWidth();
  EXPECT_EQ(scripted_.accepted.Get(), "");
  ASSERT_EQ(Run({"calibrate", "t-1", "--yes", "--quiet"}), kExitOk);
  EXPECT_EQ(scripted_.accepted.Get(), "c-1");
  EXPECT_THAT(out_, HasSubstr("robot weevil: version 2 is the current one"));
  EXPECT_EQ(err_, "");
}

TEST_F(CalibrationVerbsTest, NamesEveryFaultOfTheFlags) {
  EXPECT_EQ(Run({"calibrate", "t-1", "--tilt-uncertainty", "2mm", "--force-uncertainty", "much"}),
            kExitUsage);
  EXPECT_THAT(err_, AllOf(HasSubstr("--tilt-uncertainty"), HasSubstr("--force-uncertainty")));
  EXPECT_EQ(Run({"replan", "--tilt-uncertainty", "2mm", "--leave-out", "few"}), kExitUsage);
  EXPECT_THAT(err_,
              AllOf(HasSubstr("TRIAL"), HasSubstr("--tilt-uncertainty"), HasSubstr("--leave-out")));
  EXPECT_EQ(Run({"calibrate", "t-404"}), kExitNotFound);
}

TEST_F(CalibrationVerbsTest, ListsShowsAndAcceptsCalibrations) {
  ASSERT_EQ(Run({"calibration", "list"}), kExitOk);
  EXPECT_THAT(out_, AllOf(HasSubstr("robot weevil\n"), HasSubstr("c-1")));
  ExpectWidth();
  ASSERT_EQ(Run({"calibration", "show", "c-1"}), kExitOk);
  EXPECT_THAT(out_, HasSubstr("front-left lift stiffness"));
  EXPECT_EQ(Run({"calibration", "show", "c-0"}), kExitNotFound);
  EXPECT_EQ(Run({"calibration", "accept", "c-1"}, "y\n"), kExitError);
  EXPECT_THAT(err_, AllOf(HasSubstr("Type yes"), HasSubstr("nothing became current")));
  EXPECT_EQ(scripted_.accepted.Get(), "");
  EXPECT_EQ(Run({"calibration", "accept", "c-1"}, "yes\n"), kExitOk);
  EXPECT_EQ(scripted_.accepted.Get(), "c-1");
  EXPECT_EQ(Run({"calibration"}), kExitUsage);
  EXPECT_THAT(err_, HasSubstr("'calibration' takes list"));
}

TEST(CalibrationTextTest, ListsLongNamesWholeWithinATerminal) {
  const std::string robot = "a-robot-of-so-long-a-name-as-nobody-has-thought-of-until-now";
  v1::ListCalibrationsResponse list;
  for (const std::string& name : {robot, std::string()}) {
    v1::Calibration& calibration = *list.add_calibrations();
    calibration = MakeCalibration();
    calibration.set_name("c-0123456789abcdef0123456789abcdef");
    calibration.set_robot(name);
    calibration.set_surface("a-surface-of-so-long-a-name-as-well");
  }
  const std::string text = CalibrationTable(list);
  EXPECT_THAT(text,
              AllOf(HasSubstr(absl::StrCat("robot ", robot, "\n")),
                    HasSubstr("\n\nsurfaces alone\ncalibration"),
                    HasSubstr("a-surface-of-so-long-a-nam       1  1 of 3\n")));
  for (const absl::string_view line : absl::StrSplit(text, '\n')) {
    EXPECT_LE(line.size(), 80U) << line;
  }
}

TEST_F(CalibrationVerbsTest, AsksNobodyWhoReadsJson) {
  ASSERT_EQ(Run({"calibrate", "t-1", "--quiet", "--json"}, "yes\n"), kExitOk);
  EXPECT_THAT(out_, HasSubstr("\"name\": \"c-1\""));
  EXPECT_EQ(scripted_.accepted.Get(), "");
  ASSERT_EQ(Run({"calibrate", "t-untold", "--quiet"}, "yes\n"), kExitOk);
  EXPECT_EQ(scripted_.accepted.Get(), "");
  EXPECT_EQ(err_, "");
}

TEST_F(CalibrationVerbsTest, ReplansTheGaitsOfTheTrialsAndAsks) {
  ASSERT_EQ(Run({"replan", "t-bench", "t-walk", "--quiet"}, "no\n"), kExitOk) << err_;
  EXPECT_THAT(scripted_.last_request.Get().trials(), testing::ElementsAre("t-bench"));
  const v1::OrderGaitRequest order = jobs_.last_order.Get();
  EXPECT_EQ(order.robot_digest(), "d-2");
  EXPECT_EQ(order.surface_digest(), "s-1");
  EXPECT_EQ(order.order().task().advance().advance_m(), 0.009);
  EXPECT_THAT(out_,
              AllOf(HasSubstr("new gait g-new"),
                    HasSubstr("8.10"),
                    HasSubstr("8.00 (-11.1 %)"),
                    HasSubstr("8.80 (-2.2 %)"),
                    HasSubstr("+10.0 %")));
  ExpectWidth();
  EXPECT_THAT(err_, HasSubstr("nothing became current"));
  EXPECT_EQ(scripted_.accepted.Get(), "");
  ASSERT_EQ(Run({"replan", "t-bench", "t-walk", "--quiet"}, "yes\n"), kExitOk) << err_;
  EXPECT_EQ(scripted_.accepted.Get(), "c-1");
}

TEST_F(CalibrationVerbsTest, ReplanForScriptsPrintsOneMessage) {
  ASSERT_EQ(Run({"replan", "t-bench", "--gaits", "g-known", "--quiet", "--yes", "--json"}), kExitOk)
      << err_;
  EXPECT_THAT(out_,
              AllOf(HasSubstr("\"new_gait\": \"g-new\""),
                    HasSubstr("\"after_m\": 0.0088"),
                    HasSubstr("\"is_accepted\": true"),
                    Not(HasSubstr("version 2"))));
  EXPECT_EQ(scripted_.accepted.Get(), "c-1");
}

TEST_F(CalibrationVerbsTest, ReplanCalibratesByRunsOfGaitsWhereThereIsNoBenchTest) {
  ASSERT_EQ(Run({"replan", "t-walk", "--quiet", "--yes"}), kExitOk) << err_;
  EXPECT_THAT(scripted_.last_request.Get().trials(), testing::ElementsAre("t-walk"));
  ASSERT_EQ(Run({"replan", "t-bench", "t-walk", "--quiet", "--yes"}), kExitOk) << err_;
  EXPECT_THAT(scripted_.last_request.Get().trials(), testing::ElementsAre("t-bench"));
}

TEST_F(CalibrationVerbsTest, ReplanSaysWhatItLacks) {
  EXPECT_EQ(Run({"replan", "t-bench"}), kExitUsage);
  EXPECT_THAT(err_, HasSubstr("--gaits is missing"));
  EXPECT_EQ(Run({"replan", "t-walk", "--gaits", "g-hop"}), kExitUsage);
  EXPECT_THAT(err_, HasSubstr("g-hop goes nowhere"));
  EXPECT_EQ(Run({"replan", "t-bench", "--gaits", "g-404", "--quiet"}), kExitNotFound);
  EXPECT_EQ(Run({"replan", "t-untold", "--gaits", "g-known", "--quiet"}), kExitError);
  EXPECT_THAT(err_, HasSubstr("the gaits stay"));
  EXPECT_EQ(scripted_.accepted.Get(), "");
}

}  // namespace
}  // namespace gaitshelf::client
