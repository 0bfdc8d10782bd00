#include "service/api/trial_service.h"

#include <string>
#include <utility>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/str_cat.h"
#include "service/access/caller.h"
#include "service/api/answer.h"
#include "service/api/estimate_pose.h"
#include "service/api/page.h"
#include "service/api/receive_trial.h"
#include "service/api/status.h"
#include "service/api/study_trial.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

absl::StatusOr<InsertedTrial> Receive(House* house,
                                      std::int64_t value_limit,
                                      const grpc::ServerContext& context,
                                      MessageReader<v1::UploadTrialRequest>* reader) {
  v1::UploadTrialRequest request;
  if (!reader->Read(&request)) {
    return MissingField("trial", "send the description first, then the samples");
  }
  TrialReceiver receiver(
      house->library, RequesterOf(context, request.trial().requester()), value_limit);
  do {
    if (house->stop.is_raised()) {
      return absl::UnavailableError("the server stops and has stored nothing; upload again later");
    }
    GAITSHELF_RETURN_IF_ERROR(receiver.Take(request));
  } while (reader->Read(&request));
  // The end of the stream and a client that is gone look alike.
  if (context.IsCancelled()) {
    return absl::CancelledError("the client is gone");
  }
  return receiver.Store();
}

absl::Status SendSamples(House* house,
                         const std::string& name,
                         grpc::ServerContext* context,
                         grpc::ServerWriter<v1::TrialBlock>* writer) {
  if (name.empty()) {
    return MissingField("name", "give a trial's name");
  }
  GAITSHELF_ASSIGN_OR_RETURN(const int count, house->library->CountTrialBlocks(name));
  v1::TrialBlock block;
  for (int number = 0; number < count; ++number) {
    if (house->stop.is_raised()) {
      return absl::UnavailableError("the server stops; ask again later");
    }
    GAITSHELF_ASSIGN_OR_RETURN(const std::string bytes,
                               house->library->GetTrialBlock(name, number));
    if (!block.ParseFromString(bytes)) {
      return absl::DataLossError(
          absl::StrCat("block ", number, " of trial '", name, "' cannot be read back"));
    }
    GAITSHELF_RETURN_IF_ERROR(Send(house, block, context, writer));
  }
  return absl::OkStatus();
}

}  // namespace

grpc::Status TrialServiceHandler::UploadTrial(grpc::ServerContext* context,
                                              grpc::ServerReader<v1::UploadTrialRequest>* reader,
                                              v1::UploadTrialResponse* response) {
  const Admission::Place place(&uploads_, *context);
  if (!place.is_taken()) {
    return ToGrpc(place.refusal());
  }
  reader->SendInitialMetadata();  // the client may know that it has been let in
  MessageReader<v1::UploadTrialRequest> messages(&house_->watchdog, context, reader);
  absl::StatusOr<InsertedTrial> inserted = Receive(house_, value_limit_, *context, &messages);
  if (!inserted.ok()) {
    return ToGrpc(inserted.status());
  }
  *response->mutable_trial() = std::move(inserted->trial);
  response->set_is_new(inserted->is_new);
  return grpc::Status::OK;
}

grpc::Status TrialServiceHandler::GetTrial(grpc::ServerContext* /*context*/,
                                           const v1::GetTrialRequest* request,
                                           v1::Trial* response) {
  if (request->name().empty()) {
    return ToGrpc(MissingField("name", "give a trial's name"));
  }
  return Answer(house_->library->GetTrial(request->name()), response);
}

grpc::Status TrialServiceHandler::ListTrials(grpc::ServerContext* /*context*/,
                                             const v1::ListTrialsRequest* request,
                                             v1::ListTrialsResponse* response) {
  if (const absl::Status status = CheckPageSize(request->page_size()); !status.ok()) {
    return ToGrpc(status);
  }
  absl::StatusOr<TrialPage> page = house_->library->ListTrials(
      {.robot = request->robot(), .gait = request->gait(), .kind = request->kind()},
      {.page_size = request->page_size(), .page_token = request->page_token()});
  if (!page.ok()) {
    return ToGrpc(page.status());
  }
  response->mutable_trials()->Assign(page->trials.begin(), page->trials.end());
  response->set_next_page_token(page->next_page_token);
  return grpc::Status::OK;
}

grpc::Status TrialServiceHandler::StreamTrialSamples(grpc::ServerContext* context,
                                                     const v1::StreamTrialSamplesRequest* request,
                                                     grpc::ServerWriter<v1::TrialBlock>* writer) {
  const Admission::Place place(&downloads_, *context);
  if (!place.is_taken()) {
    return ToGrpc(place.refusal());
  }
  return ToGrpc(SendSamples(house_, request->name(), context, writer));
}

grpc::Status TrialServiceHandler::AnalyseTrial(grpc::ServerContext* context,
                                               const v1::AnalyseTrialRequest* request,
                                               v1::AnalyseTrialResponse* response) {
  const Admission::Place place(&studies_, *context);
  if (!place.is_taken()) {
    return ToGrpc(place.refusal());
  }
  return Answer(
      StudyTrial(house_->library, {.trial = request->name(), .options = request->options()}),
      response->mutable_analysis());
}

grpc::Status TrialServiceHandler::CompareTrial(grpc::ServerContext* context,
                                               const v1::CompareTrialRequest* request,
                                               v1::CompareTrialResponse* response) {
  const Admission::Place place(&studies_, *context);
  if (!place.is_taken()) {
    return ToGrpc(place.refusal());
  }
  return Answer(CompareStoredTrial(house_->library,
                                   {.trial = request->name(), .options = request->options()}),
                response->mutable_comparison());
}

grpc::Status TrialServiceHandler::StreamTrialPose(grpc::ServerContext* context,
                                                  const v1::StreamTrialPoseRequest* request,
                                                  grpc::ServerWriter<v1::TrialPoseBlock>* writer) {
  const Admission::Place place(&studies_, *context);
  if (!place.is_taken()) {
    return ToGrpc(place.refusal());
  }
  return ToGrpc(
      EstimatePose(house_->library, *request, [&](const v1::TrialPoseBlock& block) -> absl::Status {
        if (house_->stop.is_raised()) {
          return absl::UnavailableError("the server stops; ask again later");
        }
        return Send(house_, block, context, writer);
      }));
}

}  // namespace gaitshelf::service
