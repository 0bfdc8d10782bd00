#include "service/api/calibration_service.h"

#include <atomic>
#include <chrono>
#include <string>
#include <thread>
#include <utility>

#include "absl/status/status.h"
#include "service/access/caller.h"
#include "service/api/answer.h"
#include "service/api/page.h"
#include "service/api/run_calibration.h"
#include "service/api/status.h"

namespace gaitshelf::service {
namespace {

// How soon a fit ends after its caller has gone or the server stops.
constexpr std::chrono::milliseconds kLookPeriod(50);

// Raises a flag when the caller is gone or the server stops, from a thread of its own: fits look at
// the flag and know nothing of calls.
class CallWatch {
 public:
  CallWatch(House* house, grpc::ServerContext* context)
      : thread_([this, house, context] {
          while (!is_over_ && !stop_) {
            const bool is_stopping =
                house->stop.WaitUntil(std::chrono::steady_clock::now() + kLookPeriod);
            stop_ = is_stopping || context->IsCancelled();
          }
        }) {}
  ~CallWatch() {
    is_over_ = true;
    thread_.join();
  }
  CallWatch(const CallWatch&) = delete;
  CallWatch& operator=(const CallWatch&) = delete;

  const std::atomic<bool>* stop() const { return &stop_; }

 private:
  std::atomic<bool> is_over_{false};
  std::atomic<bool> stop_{false};
  std::thread thread_;
};

// A fit that was stopped by the server's end may be asked for again.
absl::Status OfStop(const House& house, const absl::Status& status) {
  return absl::IsCancelled(status) && house.stop.is_raised()
             ? absl::UnavailableError("the server stops and has kept nothing; ask again later")
             : status;
}

}  // namespace

grpc::Status CalibrationServiceHandler::Calibrate(
    grpc::ServerContext* context,
    const v1::CalibrateRequest* request,
    grpc::ServerWriter<v1::CalibrateResponse>* writer) {
  const Admission::Place place(&calibrations_, *context);
  if (!place.is_taken()) {
    return ToGrpc(place.refusal());
  }
  const CallWatch watch(house_, context);
  CalibrationRun run = {.request = *request,
                        .requester = RequesterOf(*context, request->requester()),
                        .stop = watch.stop()};
  run.on_progress = [this, context, writer](const v1::CalibrationProgress& progress) {
    v1::CalibrateResponse response;
    *response.mutable_progress() = progress;
    // Of a client that is gone the watch hears.
    Send(house_, response, context, writer).IgnoreError();
  };
  absl::StatusOr<v1::Calibration> calibration = RunCalibration(house_->library, run);
  if (!calibration.ok()) {
    return ToGrpc(OfStop(*house_, calibration.status()));
  }
  v1::CalibrateResponse response;
  *response.mutable_calibration() = *std::move(calibration);
  return ToGrpc(Send(house_, response, context, writer));
}

grpc::Status CalibrationServiceHandler::GetCalibration(grpc::ServerContext* /*context*/,
                                                       const v1::GetCalibrationRequest* request,
                                                       v1::Calibration* response) {
  if (request->name().empty()) {
    return ToGrpc(MissingField("name", "give a calibration's name"));
  }
  return Answer(house_->library->GetCalibration(request->name()), response);
}

grpc::Status CalibrationServiceHandler::ListCalibrations(grpc::ServerContext* /*context*/,
                                                         const v1::ListCalibrationsRequest* request,
                                                         v1::ListCalibrationsResponse* response) {
  if (const absl::Status status = CheckPageSize(request->page_size()); !status.ok()) {
    return ToGrpc(status);
  }
  absl::StatusOr<CalibrationPage> page = house_->library->ListCalibrations(
      {.robot = request->robot(), .surface = request->surface()},
      {.page_size = request->page_size(), .page_token = request->page_token()});
  if (!page.ok()) {
    return ToGrpc(page.status());
  }
  response->mutable_calibrations()->Assign(page->calibrations.begin(), page->calibrations.end());
  response->set_next_page_token(page->next_page_token);
  return grpc::Status::OK;
}

grpc::Status CalibrationServiceHandler::AcceptCalibration(
    grpc::ServerContext* context,
    const v1::AcceptCalibrationRequest* request,
    v1::AcceptCalibrationResponse* response) {
  return Answer(AcceptStoredCalibration(
                    house_->library, request->name(), RequesterOf(*context, request->requester())),
                response);
}

grpc::Status CalibrationServiceHandler::ReplayGait(grpc::ServerContext* context,
                                                   const v1::ReplayGaitRequest* request,
                                                   v1::ReplayGaitResponse* response) {
  const Admission::Place place(&replays_, *context);
  if (!place.is_taken()) {
    return ToGrpc(place.refusal());
  }
  const CallWatch watch(house_, context);
  absl::StatusOr<v1::ReplayGaitResponse> replay =
      ReplayStoredGait(house_->library, *request, watch.stop());
  return replay.ok() ? Answer(std::move(replay), response)
                     : ToGrpc(OfStop(*house_, replay.status()));
}

}  // namespace gaitshelf::service
