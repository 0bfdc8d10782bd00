#include "service/api/playback_service.h"

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "service/api/load_gait.h"
#include "service/api/status.h"
#include "service/playback/check_stream.h"
#include "service/playback/sample_cycle.h"
#include "service/playback/sampling.h"
#include "service/playback/setpoint_source.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

using Clock = std::chrono::steady_clock;
using Seconds = std::chrono::duration<double>;

// Stalls of 70 to 160 ms were measured on a busy machine: blocks leave long enough ahead to outlast
// them, and hold enough samples that a message costs little.
constexpr double kBlock_s = 0.02;
constexpr Seconds kLead(0.2);
// A paced stream that is this late after its lead is of no use to a drive.
constexpr Seconds kMostLate(1.0);

double SampleRateOf(const v1::StreamSetpointsRequest& request) {
  return request.sample_rate_hz() == 0.0 ? kDefaultSampleRateHz : request.sample_rate_hz();
}

absl::StatusOr<v1::SetpointBlock> MakeTable(House* house, const v1::SampleGaitRequest& request) {
  if (const std::vector<v1::FieldViolation> faults = CheckSampleGait(request); !faults.empty()) {
    return InvalidRequest(faults);
  }
  GAITSHELF_ASSIGN_OR_RETURN(const v1::Gait gait, LoadGoodGait(house->library, request.gait()));
  if (const std::vector<v1::FieldViolation> faults = CheckSampleGaitFor(request, gait);
      !faults.empty()) {
    return InvalidRequest(faults);
  }
  return SampleCycle(request, gait);
}

// Checks everything and sets up the samples; says in the log who plays what.
absl::StatusOr<SetpointSource> Prepare(House* house, const v1::StreamSetpointsRequest& request) {
  if (const std::vector<v1::FieldViolation> faults = CheckStream(request); !faults.empty()) {
    return InvalidRequest(faults);
  }
  GAITSHELF_RETURN_IF_ERROR(CheckArmed(request.armed_by(), request.is_preview()));
  GAITSHELF_ASSIGN_OR_RETURN(const v1::Gait gait, LoadGoodGait(house->library, request.gait()));
  if (const std::vector<v1::FieldViolation> faults = CheckStreamFor(request, gait);
      !faults.empty()) {
    return InvalidRequest(faults);
  }
  GAITSHELF_ASSIGN_OR_RETURN(const v1::StoredRobot robot,
                             house->library->GetRobot(gait.robot(), gait.robot_digest()));
  const SetpointOptions options{.sample_rate_hz = SampleRateOf(request),
                                .duration_s = request.duration_s(),
                                .drive_bits = request.drive_bits()};
  GAITSHELF_ASSIGN_OR_RETURN(SetpointSource source,
                             SetpointSource::Create(gait, robot.robot(), options));
  const GaitContent content = ContentOf(gait);
  Tell(house->log,
       {.what = "stream begins",
        .fields = {{"gait", gait.name()},
                   {"mode", request.is_preview() ? "preview" : "armed"},
                   {"armed_by", request.armed_by()},
                   {"duration_s", options.duration_s},
                   {"sample_rate_hz", options.sample_rate_hz},
                   // What legs and drives hold, and how far straight lines between samples stray.
                   {"leg_position_hz", content.leg_position_hz},
                   {"voltage_hz", content.voltage_hz},
                   {"line_error_mm", 1e3 * LegLineErrorM(gait, options.sample_rate_hz)}}});
  return source;
}

// Sends a stream; one object a call.
class Sender {
 public:
  Sender(grpc::ServerContext* context,
         grpc::ServerWriter<v1::SetpointBlock>* writer,
         WriteWatchdog* watchdog)
      : context_(context), writer_(writer), watchdog_(watchdog) {}

  absl::Status Run(const StopSignal& stop,
                   const v1::StreamSetpointsRequest& request,
                   SetpointSource source) {
    const int block_size =
        std::max(1, static_cast<int>(std::lround(kBlock_s * SampleRateOf(request))));
    const bool is_paced = !request.is_unpaced();
    const Clock::time_point start = Clock::now();
    while (!source.is_finished()) {
      const v1::SetpointBlock block = source.NextBlock(block_size);
      const auto due =
          start + std::chrono::duration_cast<Clock::duration>(Seconds(block.first_sample_time_s()));
      const auto send_time = due - std::chrono::duration_cast<Clock::duration>(kLead);
      if (is_paced ? stop.WaitUntil(send_time) : stop.is_raised()) {
        return LeadDown(block, std::move(source));
      }
      GAITSHELF_RETURN_IF_ERROR(Send(block));
      if (is_paced && Clock::now() - due > kMostLate) {
        return WithReason(
            absl::ResourceExhaustedError(
                "the reader fell more than 1 s behind; read faster, or ask for a lower "
                "sample_rate_hz"),
            "READER_TOO_SLOW");
      }
    }
    return absl::OkStatus();
  }

 private:
  absl::Status Send(const v1::SetpointBlock& block) {
    const WriteWatchdog::Watch watch(watchdog_, context_);
    if (context_->IsCancelled() || !writer_->Write(block)) {
      return absl::CancelledError("the client is gone, or has stopped reading");
    }
    return absl::OkStatus();
  }

  // The server stops: sends the way to rest at once, ahead of its pace.
  absl::Status LeadDown(const v1::SetpointBlock& next, SetpointSource source) {
    GAITSHELF_RETURN_IF_ERROR(Send(next));
    source.EndEarly();
    while (!source.is_finished()) {
      GAITSHELF_RETURN_IF_ERROR(Send(source.NextBlock(std::max(1, next.sample_count()))));
    }
    return absl::UnavailableError("the server stops; the stream was led to the rest posture");
  }

  grpc::ServerContext* context_;
  grpc::ServerWriter<v1::SetpointBlock>* writer_;
  WriteWatchdog* watchdog_;
};

}  // namespace

grpc::Status PlaybackServiceHandler::StreamSetpoints(
    grpc::ServerContext* context,
    const v1::StreamSetpointsRequest* request,
    grpc::ServerWriter<v1::SetpointBlock>* writer) {
  const Admission::Place place(&streams_, *context);
  if (!place.is_taken()) {
    return ToGrpc(place.refusal());
  }
  absl::StatusOr<SetpointSource> source = Prepare(house_, *request);
  if (!source.ok()) {
    return ToGrpc(source.status());
  }
  const absl::Status status =
      Sender(context, writer, &house_->watchdog).Run(house_->stop, *request, *std::move(source));
  Tell(house_->log,
       {.what = "stream has ended",
        .fields = {{"gait", request->gait()},
                   {"code", absl::StatusCodeToString(status.code())},
                   {"reason", status.message()}}});
  return ToGrpc(status);
}

grpc::Status PlaybackServiceHandler::SampleGait(grpc::ServerContext* /*context*/,
                                                const v1::SampleGaitRequest* request,
                                                v1::SetpointBlock* response) {
  absl::StatusOr<v1::SetpointBlock> table = MakeTable(house_, *request);
  if (table.ok()) {
    *response = std::move(*table);
  }
  return ToGrpc(table.status());
}

}  // namespace gaitshelf::service
