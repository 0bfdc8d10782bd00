// Serves TrialService: takes trials in, hands them out, and has them analysed.
#ifndef GAITSHELF_SERVICE_API_TRIAL_SERVICE_H_
#define GAITSHELF_SERVICE_API_TRIAL_SERVICE_H_

#include "gaitshelf/v1/trial_service.grpc.pb.h"

#include "service/api/admission.h"
#include "service/api/house.h"

namespace gaitshelf::service {

class TrialServiceHandler final : public v1::TrialService::Service {
 public:
  explicit TrialServiceHandler(House* house)
      : house_(house),
        uploads_(kFew, "uploads", "TOO_MANY_TRIALS", &house->places),
        studies_(kFew, "analyses", "TOO_MANY_TRIALS", &house->places),
        downloads_({.total = 16, .each = 4}, "downloads", "TOO_MANY_TRIALS", &house->places) {}

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

 private:
  // Each may hold the samples of the largest trial, 320 MB.
  static constexpr Admission::Limits kFew{.total = 2, .each = 2};

  House* house_;
  Admission uploads_;
  Admission studies_;
  Admission downloads_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_TRIAL_SERVICE_H_
