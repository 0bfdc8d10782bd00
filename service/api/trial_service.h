// Serves TrialService: takes trials in, hands them out, and has them analysed.
#ifndef GAITSHELF_SERVICE_API_TRIAL_SERVICE_H_
#define GAITSHELF_SERVICE_API_TRIAL_SERVICE_H_

#include <algorithm>
#include <cstdint>

#include "gaitshelf/v1/trial_service.grpc.pb.h"

#include "service/api/admission.h"
#include "service/api/house.h"
#include "solver/measure/check_trial.h"

namespace gaitshelf::service {

struct TrialServiceOptions {
  // Each may hold the samples of the largest trial, 320 MB.
  int upload_limit = 2;
  int study_limit = 2;
  // Values of one trial.
  std::int64_t value_limit = solver::TrialLimits::kMostValues;
};

class TrialServiceHandler final : public v1::TrialService::Service {
 public:
  TrialServiceHandler(House* house, const TrialServiceOptions& options)
      : house_(house),
        value_limit_(options.value_limit),
        uploads_(Shared(options.upload_limit), "uploads", "TOO_MANY_TRIALS", house->places),
        studies_(Shared(options.study_limit), "analyses", "TOO_MANY_TRIALS", house->places),
        downloads_({.total = 16, .each = 4}, "downloads", "TOO_MANY_TRIALS", house->places) {}

  grpc::Status UploadTrial(grpc::ServerContext* context,
                           grpc::ServerReader<v1::UploadTrialRequest>* reader,
                           v1::UploadTrialResponse* response) override;
  grpc::Status GetTrial(grpc::ServerContext* context,
                        const v1::GetTrialRequest* request,
                        v1::Trial* response) override;
  grpc::Status ListTrials(grpc::ServerContext* context,
                          const v1::ListTrialsRequest* request,
                          v1::ListTrialsResponse* response) override;
  grpc::Status StreamTrialSamples(grpc::ServerContext* context,
                                  const v1::StreamTrialSamplesRequest* request,
                                  grpc::ServerWriter<v1::TrialBlock>* writer) override;
  grpc::Status AnalyseTrial(grpc::ServerContext* context,
                            const v1::AnalyseTrialRequest* request,
                            v1::AnalyseTrialResponse* response) override;
  grpc::Status CompareTrial(grpc::ServerContext* context,
                            const v1::CompareTrialRequest* request,
                            v1::CompareTrialResponse* response) override;
  grpc::Status StreamTrialPose(grpc::ServerContext* context,
                               const v1::StreamTrialPoseRequest* request,
                               grpc::ServerWriter<v1::TrialPoseBlock>* writer) override;

 private:
  // Half of them for one member, so that he never keeps all others waiting.
  static Admission::Limits Shared(int count) {
    return {.total = count, .each = std::max(1, count / 2)};
  }

  House* house_;
  const std::int64_t value_limit_;
  Admission uploads_;
  Admission studies_;
  Admission downloads_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_TRIAL_SERVICE_H_
