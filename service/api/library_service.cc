#include "service/api/library_service.h"

#include <memory>
#include <mutex>
#include <string>
#include <utility>
#include <vector>

#include <grpcpp/impl/codegen/proto_utils.h>
#include <grpcpp/support/slice.h>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/access/caller.h"
#include "service/api/answer.h"
#include "service/api/page.h"
#include "service/api/resolve_order.h"
#include "service/api/status.h"
#include "solver/base/status_macros.h"
#include "solver/leg/compile_leg.h"
#include "solver/robot/check.h"
#include "solver/robot/digest.h"

namespace gaitshelf::service {
namespace {

absl::StatusOr<PutRobotResult> PutRobotChecked(Library* library,
                                               const v1::PutRobotRequest& request,
                                               const std::string& requester) {
  if (!request.has_robot()) {
    return MissingField("robot", "give the description to store");
  }
  if (const solver::Violations faults = solver::CheckRobot(request.robot()); !faults.empty()) {
    return InvalidRequest(faults);
  }
  GAITSHELF_ASSIGN_OR_RETURN(const v1::LegTables tables, solver::CompileLegs(request.robot()));
  const std::string digest = solver::RobotDigest(request.robot());
  GAITSHELF_RETURN_IF_ERROR(library->PutLegTables(digest, tables));
  return library->PutRobot(request.robot(), digest, requester);
}

absl::StatusOr<PutSurfaceResult> PutSurfaceChecked(Library* library,
                                                   const v1::PutSurfaceRequest& request,
                                                   const std::string& requester) {
  if (!request.has_surface()) {
    return MissingField("surface", "give the description to store");
  }
  if (const solver::Violations faults = solver::CheckSurface(request.surface()); !faults.empty()) {
    return InvalidRequest(faults);
  }
  return library->PutSurface(
      request.surface(), solver::SurfaceDigest(request.surface()), requester);
}

absl::StatusOr<v1::GaitSummary> FindGaitFor(Library* library, const v1::FindGaitRequest& request) {
  if (!request.has_order()) {
    return MissingField("order", "say which gait is wanted");
  }
  GAITSHELF_ASSIGN_OR_RETURN(const JobOrder order, ResolveOrder(library, request.order()));
  absl::StatusOr<v1::GaitSummary> found = library->FindBestGait(order.key);
  if (absl::IsNotFound(found.status())) {
    return WithReason(
        absl::NotFoundError("the library has no good gait for this order yet; order it with "
                            "JobService.OrderGait"),
        "NO_GAIT_YET");
  }
  return found;
}

absl::StatusOr<SharedBytes> GaitBytesFor(Library* library, const grpc::ByteBuffer& request_bytes) {
  grpc::ByteBuffer bytes = request_bytes;  // deserialising empties it
  v1::GetGaitRequest request;
  if (!grpc::SerializationTraits<v1::GetGaitRequest>::Deserialize(&bytes, &request).ok()) {
    return absl::InternalError("the request cannot be parsed as gaitshelf.v1.GetGaitRequest");
  }
  if (request.name().empty()) {
    return MissingField("name", "give a gait's name");
  }
  return library->GetGaitBytes(request.name());
}

// What a call of GetGait holds until gRPC has let go of the bytes of its answer, or until it is
// refused. That may be after the server's end, so what is given back then is shared.
class GaitCall {
 public:
  GaitCall(std::shared_ptr<Admission> gaits,
           std::shared_ptr<CallMeter> meter,
           const grpc::CallbackServerContext& context)
      : metered_(std::move(meter), CallOf(kGetGaitMethod)),
        gaits_(std::move(gaits)),
        place_(gaits_.get(), context) {}

  // Answers; the call goes with the answer's bytes, which others hold as well and which gRPC sends
  // without a copy.
  static absl::Status Answer(std::unique_ptr<GaitCall> call,
                             Library* library,
                             const grpc::ByteBuffer& request,
                             grpc::ByteBuffer* response) {
    absl::StatusOr<SharedBytes> bytes = call->Find(library, request);
    call->metered_.SetCode(bytes.status().raw_code());
    if (bytes.ok()) {
      const grpc::Slice slice = Send(std::move(call), *std::move(bytes));
      *response = grpc::ByteBuffer(&slice, 1);
      return absl::OkStatus();
    }
    return bytes.status();
  }

 private:
  absl::StatusOr<SharedBytes> Find(Library* library, const grpc::ByteBuffer& request) const {
    if (!place_.is_taken()) {
      return place_.refusal();
    }
    return GaitBytesFor(library, request);
  }

  // gRPC lets go of the slice on another thread; the lock shows the thread sanitizer that order.
  static grpc::Slice Send(std::unique_ptr<GaitCall> owned, SharedBytes bytes) {
    GaitCall* const call = owned.release();
    const std::lock_guard<std::mutex> lock(call->mutex_);
    call->bytes_ = std::move(bytes);
    // gRPC asks for bytes that it might change, and does not change them.
    return grpc::Slice(
        const_cast<char*>(call->bytes_->data()),  // NOLINT(cppcoreguidelines-pro-type-const-cast)
        call->bytes_->size(),
        [](void* held) {
          auto* const sent = static_cast<GaitCall*>(held);
          { const std::lock_guard<std::mutex> end(sent->mutex_); }
          delete sent;
        },
        call);
  }

  CallMeter::Call metered_;
  const std::shared_ptr<Admission> gaits_;
  const Admission::Place place_;
  std::mutex mutex_;
  SharedBytes bytes_;
};

}  // namespace

grpc::Status LibraryServiceHandler::PutRobot(grpc::ServerContext* context,
                                             const v1::PutRobotRequest* request,
                                             v1::PutRobotResponse* response) {
  absl::StatusOr<PutRobotResult> result =
      PutRobotChecked(house_->library, *request, RequesterOf(*context));
  if (!result.ok()) {
    return ToGrpc(result.status());
  }
  *response->mutable_stored() = std::move(result->stored);
  response->set_is_new_version(result->is_new_version);
  return grpc::Status::OK;
}

grpc::Status LibraryServiceHandler::GetRobot(grpc::ServerContext* /*context*/,
                                             const v1::GetRobotRequest* request,
                                             v1::StoredRobot* response) {
  if (request->name().empty()) {
    return ToGrpc(MissingField("name", "give a robot's name"));
  }
  return Answer(house_->library->GetRobot(request->name(), request->digest()), response);
}

grpc::Status LibraryServiceHandler::ListRobots(grpc::ServerContext* /*context*/,
                                               const v1::ListRobotsRequest* /*request*/,
                                               v1::ListRobotsResponse* response) {
  absl::StatusOr<std::vector<v1::StoredRobot>> robots = house_->library->ListRobots();
  if (!robots.ok()) {
    return ToGrpc(robots.status());
  }
  response->mutable_robots()->Assign(robots->begin(), robots->end());
  return grpc::Status::OK;
}

grpc::Status LibraryServiceHandler::PutSurface(grpc::ServerContext* context,
                                               const v1::PutSurfaceRequest* request,
                                               v1::PutSurfaceResponse* response) {
  absl::StatusOr<PutSurfaceResult> result =
      PutSurfaceChecked(house_->library, *request, RequesterOf(*context));
  if (!result.ok()) {
    return ToGrpc(result.status());
  }
  *response->mutable_stored() = std::move(result->stored);
  response->set_is_new_version(result->is_new_version);
  return grpc::Status::OK;
}

grpc::Status LibraryServiceHandler::GetSurface(grpc::ServerContext* /*context*/,
                                               const v1::GetSurfaceRequest* request,
                                               v1::StoredSurface* response) {
  if (request->name().empty()) {
    return ToGrpc(MissingField("name", "give a surface's name"));
  }
  return Answer(house_->library->GetSurface(request->name(), request->digest()), response);
}

grpc::Status LibraryServiceHandler::ListSurfaces(grpc::ServerContext* /*context*/,
                                                 const v1::ListSurfacesRequest* /*request*/,
                                                 v1::ListSurfacesResponse* response) {
  absl::StatusOr<std::vector<v1::StoredSurface>> surfaces = house_->library->ListSurfaces();
  if (!surfaces.ok()) {
    return ToGrpc(surfaces.status());
  }
  response->mutable_surfaces()->Assign(surfaces->begin(), surfaces->end());
  return grpc::Status::OK;
}

grpc::Status LibraryServiceHandler::FindGait(grpc::ServerContext* /*context*/,
                                             const v1::FindGaitRequest* request,
                                             v1::GaitSummary* response) {
  return Answer(FindGaitFor(house_->library, *request), response);
}

grpc::ServerUnaryReactor* LibraryServiceHandler::GetGait(grpc::CallbackServerContext* context,
                                                         const grpc::ByteBuffer* request,
                                                         grpc::ByteBuffer* response) {
  const absl::Status status =
      GaitCall::Answer(std::make_unique<GaitCall>(gaits_, house_->meter, *context),
                       house_->library,
                       *request,
                       response);
  // gRPC's own reactor ends with the thread that has sent the answer. Ours would be told of the end
  // on another one, which has to be woken for it.
  grpc::ServerUnaryReactor* const reactor = context->DefaultReactor();
  reactor->Finish(ToGrpc(status));
  return reactor;
}

grpc::Status LibraryServiceHandler::ListGaits(grpc::ServerContext* /*context*/,
                                              const v1::ListGaitsRequest* request,
                                              v1::ListGaitsResponse* response) {
  if (const absl::Status status = CheckPageSize(request->page_size()); !status.ok()) {
    return ToGrpc(status);
  }
  absl::StatusOr<GaitPage> page = house_->library->ListGaits(
      {.robot = request->robot(), .surface = request->surface(), .only_good = request->only_good()},
      {.page_size = request->page_size(), .page_token = request->page_token()});
  if (!page.ok()) {
    return ToGrpc(page.status());
  }
  response->mutable_gaits()->Assign(page->gaits.begin(), page->gaits.end());
  response->set_next_page_token(page->next_page_token);
  return grpc::Status::OK;
}

}  // namespace gaitshelf::service
