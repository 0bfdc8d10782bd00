// Serves JobService: orders gaits and lets clients follow the jobs. Solving is the dispatcher's.
#ifndef GAITSHELF_SERVICE_API_JOB_SERVICE_H_
#define GAITSHELF_SERVICE_API_JOB_SERVICE_H_

#include "gaitshelf/v1/job_service.grpc.pb.h"

#include "service/api/admission.h"
#include "service/api/house.h"

namespace gaitshelf::service {

class JobServiceHandler final : public v1::JobService::Service {
 public:
  JobServiceHandler(House* house, Admission::Limits watches)
      : house_(house), watches_(watches, "followed jobs", "TOO_MANY_WATCHES", house->places) {}

  grpc::Status OrderGait(grpc::ServerContext* context,
                         const v1::OrderGaitRequest* request,
                         v1::OrderGaitResponse* response) override;
  grpc::Status WatchJob(grpc::ServerContext* context,
                        const v1::WatchJobRequest* request,
                        grpc::ServerWriter<v1::WatchJobResponse>* writer) override;
  grpc::Status GetJob(grpc::ServerContext* context,
                      const v1::GetJobRequest* request,
                      v1::Job* response) override;
  grpc::Status ListJobs(grpc::ServerContext* context,
                        const v1::ListJobsRequest* request,
                        v1::ListJobsResponse* response) override;
  grpc::Status CancelJob(grpc::ServerContext* context,
                         const v1::CancelJobRequest* request,
                         v1::Job* response) override;

 private:
  House* house_;
  Admission watches_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_JOB_SERVICE_H_
