#include "service/api/job_service.h"

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <utility>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/str_cat.h"
#include "service/access/caller.h"
#include "service/api/page.h"
#include "service/api/resolve_order.h"
#include "service/api/status.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// How often a followed job is looked at: soon enough for an eye, seldom enough for the library.
constexpr std::chrono::milliseconds kWatchPeriod(80);
// The same where the library tells what is new: looking for news costs nothing.
constexpr std::chrono::milliseconds kNewsPeriod(20);
// A job without news is looked at all the same, in case that something went unheard.
constexpr std::chrono::seconds kQuietPeriod(2);
constexpr std::size_t kLongestRequester = 63;

absl::Status CheckOrderRequest(const v1::OrderGaitRequest& request) {
  if (!request.has_order()) {
    return MissingField("order", "say which gait is wanted");
  }
  if (request.requester().size() > kLongestRequester) {
    v1::FieldViolation violation;
    violation.set_field("requester");
    violation.set_value(absl::StrCat(request.requester().size(), " characters"));
    violation.set_problem("must have at most 63 characters");
    violation.set_mend("shorten the name");
    return InvalidRequest({violation});
  }
  return absl::OkStatus();
}

// Tells programs which limit of the queue refused an order.
absl::Status NameLimit(absl::Status status) {
  const auto limit = status.GetPayload(kLimitPayload);
  if (!limit.has_value()) {
    return status;
  }
  status.ErasePayload(kLimitPayload);
  return WithReason(std::move(status), std::string(*limit));
}

absl::StatusOr<v1::OrderGaitResponse> Order(House* house,
                                            const v1::OrderGaitRequest& request,
                                            const std::string& requester) {
  GAITSHELF_RETURN_IF_ERROR(CheckOrderRequest(request));
  GAITSHELF_ASSIGN_OR_RETURN(JobOrder order,
                             ResolveOrder(house->library,
                                          request.order(),
                                          {.robot_digest = request.robot_digest(),
                                           .surface_digest = request.surface_digest(),
                                           .also_on_digests = {request.also_on_digests().begin(),
                                                               request.also_on_digests().end()}}));
  v1::OrderGaitResponse response;
  if (!request.solve_anew()) {
    absl::StatusOr<v1::GaitSummary> found = house->library->FindBestGait(order.key);
    if (found.ok()) {
      *response.mutable_gait() = *std::move(found);
      return response;
    }
    if (!absl::IsNotFound(found.status())) {
      return found.status();
    }
  }
  order.requester = requester;
  absl::StatusOr<OrderedJob> ordered = house->library->OrderJob(order);
  if (!ordered.ok()) {
    return NameLimit(ordered.status());
  }
  response.set_joined(ordered->joined);
  *response.mutable_job() = std::move(ordered->job);
  house->wake_dispatcher();
  return response;
}

bool HasEnded(const v1::Job& job) {
  return job.state() == v1::JOB_STATE_DONE || job.state() == v1::JOB_STATE_FAILED ||
         job.state() == v1::JOB_STATE_CANCELLED;
}

absl::StatusOr<v1::WatchJobResponse> LookAt(Library* library, const std::string& name) {
  v1::WatchJobResponse response;
  GAITSHELF_ASSIGN_OR_RETURN(*response.mutable_job(), library->GetJob(name));
  if (!response.job().gait().empty()) {
    GAITSHELF_ASSIGN_OR_RETURN(*response.mutable_gait(),
                               library->GetGaitSummary(response.job().gait()));
  }
  return response;
}

// Waits until the job should be looked at again; false when the server stops.
bool AwaitNews(House* house,
               const std::string& name,
               grpc::ServerContext* context,
               const std::optional<std::uint64_t>& known) {
  using Clock = std::chrono::steady_clock;
  const Clock::time_point quiet_end = Clock::now() + kQuietPeriod;
  if (!known.has_value()) {
    return !house->stop.WaitUntil(Clock::now() + kWatchPeriod);
  }
  do {
    if (house->stop.WaitUntil(Clock::now() + kNewsPeriod)) {
      return false;
    }
  } while (house->library->JobNews(name) == known && Clock::now() < quiet_end &&
           !context->IsCancelled());
  return true;
}

// Sends the job after every change until it has ended or nobody listens any more.
absl::Status Watch(House* house,
                   const std::string& name,
                   grpc::ServerContext* context,
                   grpc::ServerWriter<v1::WatchJobResponse>* writer) {
  std::string last_sent;
  while (!context->IsCancelled()) {
    const std::optional<std::uint64_t> news = house->library->JobNews(name);
    absl::StatusOr<v1::WatchJobResponse> response = LookAt(house->library, name);
    // A library that is busy for once does not end a watch.
    if (response.ok()) {
      std::string bytes = response->SerializeAsString();
      if (bytes != last_sent) {
        const WriteWatchdog::Watch watch(&house->watchdog, context);
        if (!writer->Write(*response)) {
          return absl::CancelledError("the client is gone, or has stopped reading");
        }
      }
      last_sent = std::move(bytes);
      if (HasEnded(response->job())) {
        return absl::OkStatus();
      }
    } else if (!absl::IsUnavailable(response.status())) {
      return response.status();
    }
    if (!AwaitNews(house, name, context, news)) {
      return absl::UnavailableError("the server stops; the job is kept; watch it again later");
    }
  }
  return absl::CancelledError("the client is gone");
}

}  // namespace

grpc::Status JobServiceHandler::OrderGait(grpc::ServerContext* context,
                                          const v1::OrderGaitRequest* request,
                                          v1::OrderGaitResponse* response) {
  absl::StatusOr<v1::OrderGaitResponse> result =
      Order(house_, *request, RequesterOf(*context, request->requester()));
  if (result.ok()) {
    *response = *std::move(result);
    return grpc::Status::OK;
  }
  return ToGrpc(result.status());
}

grpc::Status JobServiceHandler::WatchJob(grpc::ServerContext* context,
                                         const v1::WatchJobRequest* request,
                                         grpc::ServerWriter<v1::WatchJobResponse>* writer) {
  if (request->name().empty()) {
    return ToGrpc(MissingField("name", "give a job's name"));
  }
  const Admission::Place place(&watches_, *context);
  if (!place.is_taken()) {
    return ToGrpc(place.refusal());
  }
  return ToGrpc(Watch(house_, request->name(), context, writer));
}

grpc::Status JobServiceHandler::GetJob(grpc::ServerContext* /*context*/,
                                       const v1::GetJobRequest* request,
                                       v1::Job* response) {
  if (request->name().empty()) {
    return ToGrpc(MissingField("name", "give a job's name"));
  }
  absl::StatusOr<v1::Job> job = house_->library->GetJob(request->name());
  if (job.ok()) {
    *response = *std::move(job);
    return grpc::Status::OK;
  }
  return ToGrpc(job.status());
}

grpc::Status JobServiceHandler::ListJobs(grpc::ServerContext* /*context*/,
                                         const v1::ListJobsRequest* request,
                                         v1::ListJobsResponse* response) {
  if (const absl::Status status = CheckPageSize(request->page_size()); !status.ok()) {
    return ToGrpc(status);
  }
  absl::StatusOr<JobPage> page = house_->library->ListJobs(
      request->only_open(),
      {.page_size = request->page_size(), .page_token = request->page_token()});
  if (!page.ok()) {
    return ToGrpc(page.status());
  }
  response->mutable_jobs()->Assign(page->jobs.begin(), page->jobs.end());
  response->set_next_page_token(page->next_page_token);
  return grpc::Status::OK;
}

grpc::Status JobServiceHandler::CancelJob(grpc::ServerContext* context,
                                          const v1::CancelJobRequest* request,
                                          v1::Job* response) {
  if (request->name().empty()) {
    return ToGrpc(MissingField("name", "give a job's name"));
  }
  absl::StatusOr<v1::Job> job =
      house_->library->RequestCancel(request->name(), RequesterOf(*context));
  if (!job.ok()) {
    return ToGrpc(job.status());
  }
  house_->wake_dispatcher();
  *response = *std::move(job);
  return grpc::Status::OK;
}

}  // namespace gaitshelf::service
