// What clients send, after its decoding: the checks of the services, the library behind them, and
// what plays. Calls that solve, fit or analyse are not here.
#include <chrono>
#include <cmath>
#include <cstddef>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "tests/fuzz/request.pb.h"

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/api/bundle_content.h"
#include "service/api/load_gait.h"
#include "service/api/page.h"
#include "service/api/receive_trial.h"
#include "service/api/resolve_order.h"
#include "service/api/status.h"
#include "service/playback/check_session.h"
#include "service/playback/check_stream.h"
#include "service/playback/sample_cycle.h"
#include "service/playback/session.h"
#include "service/playback/setpoint_source.h"
#include "solver/robot/check.h"
#include "solver/robot/digest.h"
#include "tests/fuzz/bundle_bytes.h"
#include "tests/fuzz/fresh_library.h"
#include "tests/fuzz/sample_gait.h"
#include "tests/fuzz/target.h"

namespace gaitshelf::fuzz {
namespace {

using service::Library;

// Headers of an answer, of which clients take 8 kB in all.
constexpr std::size_t kMostHeaderBytes = 7000;

// A fault of ours, or of the library, may come of no request.
void RequireOrderly(const absl::Status& status) {
  Require(!absl::IsInternal(status) && !absl::IsDataLoss(status) && !absl::IsUnknown(status) &&
              !absl::IsUnavailable(status),
          "a request brings no fault: " + status.ToString());
  Require(status.ok() || !status.message().empty(), "an error says something");
  const grpc::Status answer = service::ToGrpc(status);
  // Details are sent in base64.
  Require(answer.error_message().size() + answer.error_details().size() * 4 / 3 < kMostHeaderBytes,
          "an error fits into the headers of an answer");
}

template <typename T>
void RequireOrderly(const absl::StatusOr<T>& result) {
  RequireOrderly(result.status());
}

absl::Status StatusOf(const std::vector<v1::FieldViolation>& faults) {
  return faults.empty() ? absl::OkStatus() : service::InvalidRequest(faults);
}

// ---- Each call, as its handler makes it; true when the library is another one after. ----

bool Call(Library* library, const v1::PutRobotRequest& request) {
  const absl::Status status = StatusOf(solver::CheckRobot(request.robot()));
  RequireOrderly(status);
  if (!status.ok()) {
    return false;
  }
  RequireOrderly(library->PutRobot(request.robot(), solver::RobotDigest(request.robot()), "fuzz"));
  return true;
}

bool Call(Library* library, const v1::PutSurfaceRequest& request) {
  const absl::Status status = StatusOf(solver::CheckSurface(request.surface()));
  RequireOrderly(status);
  if (!status.ok()) {
    return false;
  }
  RequireOrderly(
      library->PutSurface(request.surface(), solver::SurfaceDigest(request.surface()), "fuzz"));
  return true;
}

bool Call(Library* library, const v1::GetRobotRequest& request) {
  RequireOrderly(library->GetRobot(request.name(), request.digest()));
  return false;
}

bool Call(Library* library, const v1::FindGaitRequest& request) {
  const auto order = service::ResolveOrder(library, request.order());
  RequireOrderly(order);
  if (order.ok()) {
    RequireOrderly(library->FindBestGait(order->key));
  }
  return false;
}

bool Call(Library* library, const v1::GetGaitRequest& request) {
  RequireOrderly(library->GetGaitBytes(request.name()));
  return false;
}

bool Call(Library* library, const v1::OrderGaitRequest& request) {
  auto order = service::ResolveOrder(
      library,
      request.order(),
      {.robot_digest = request.robot_digest(), .surface_digest = request.surface_digest()});
  RequireOrderly(order);
  if (!order.ok()) {
    return false;
  }
  order->requester = request.requester();
  RequireOrderly(library->OrderJob(*order));
  return true;
}

bool Call(Library* library, const v1::CancelJobRequest& request) {
  RequireOrderly(library->RequestCancel(request.name(), "fuzz"));
  return true;
}

// Asks for a list, and for the page after.
template <typename Request, typename List>
void ListPages(const Request& request, const List& list) {
  const absl::Status status = service::CheckPageSize(request.page_size());
  RequireOrderly(status);
  if (!status.ok()) {
    return;
  }
  const auto page = list({.page_size = request.page_size(), .page_token = request.page_token()});
  RequireOrderly(page);
  if (page.ok() && !page->next_page_token.empty()) {
    Require(list({.page_size = 1, .page_token = page->next_page_token}).ok(),
            "the token of a page is good for the next");
  }
}

bool Call(Library* library, const v1::ListGaitsRequest& request) {
  ListPages(request, [&](const service::PageRequest& page) {
    return library->ListGaits(
        {.robot = request.robot(), .surface = request.surface(), .only_good = request.only_good()},
        page);
  });
  return false;
}

bool Call(Library* library, const v1::ListJobsRequest& request) {
  ListPages(request, [&](const service::PageRequest& page) {
    return library->ListJobs(request.only_open(), page);
  });
  return false;
}

bool Call(Library* library, const v1::ListTrialsRequest& request) {
  ListPages(request, [&](const service::PageRequest& page) {
    return library->ListTrials(
        {.robot = request.robot(), .gait = request.gait(), .kind = request.kind()}, page);
  });
  return false;
}

bool Call(Library* library, const v1::ListCalibrationsRequest& request) {
  ListPages(request, [&](const service::PageRequest& page) {
    return library->ListCalibrations({.robot = request.robot(), .surface = request.surface()},
                                     page);
  });
  return false;
}

bool Call(Library* library, const v1::ListChangesRequest& request) {
  ListPages(request, [&](const service::PageRequest& page) { return library->ListChanges(page); });
  return false;
}

// What a drive is sent must be in its range, whatever was asked for.
void RequireSafe(const v1::SetpointBlock& block, const v1::Robot& robot) {
  for (const double position_m : block.leg_position_m()) {
    Require(std::isfinite(position_m), "legs have a place");
  }
  const int width = 2 * robot.legs_size();
  for (int i = 0; i < block.voltage_v_size(); ++i) {
    const v1::LumpedLeg& leg = robot.legs(i % width / 2).lumped();
    const v1::Bimorph& drive = (i % 2 == 0 ? leg.lift() : leg.swing()).bimorph();
    Require(block.voltage_v(i) >= 0.0 && block.voltage_v(i) <= drive.max_v(),
            "a voltage is in the range of its drive");
  }
}

bool Call(Library* library, const v1::StreamSetpointsRequest& request) {
  RequireOrderly(service::CheckArmed(request.armed_by(), request.is_preview()));
  const absl::Status status = StatusOf(service::CheckStream(request));
  RequireOrderly(status);
  const absl::StatusOr<v1::Gait> gait = service::LoadGoodGait(library, request.gait());
  RequireOrderly(gait);
  if (!status.ok() || !gait.ok()) {
    return false;
  }
  const absl::Status fits = StatusOf(service::CheckStreamFor(request, *gait));
  RequireOrderly(fits);
  if (!fits.ok()) {
    return false;
  }
  const v1::StoredRobot robot = library->GetRobot(gait->robot(), gait->robot_digest()).value();
  absl::StatusOr<service::SetpointSource> source = service::SetpointSource::Create(
      *gait,
      robot.robot(),
      {.sample_rate_hz = request.sample_rate_hz() == 0.0 ? service::kDefaultSampleRateHz
                                                         : request.sample_rate_hz(),
       .duration_s = request.duration_s(),
       .drive_bits = request.drive_bits()});
  RequireOrderly(source);
  if (source.ok()) {
    RequireSafe(source->NextBlock(100), robot.robot());
    source->EndEarly();
    RequireSafe(source->NextBlock(100), robot.robot());
  }
  return false;
}

bool Call(Library* library, const v1::SampleGaitRequest& request) {
  const absl::Status status = StatusOf(service::CheckSampleGait(request));
  RequireOrderly(status);
  const absl::StatusOr<v1::Gait> gait = service::LoadGoodGait(library, request.gait());
  RequireOrderly(gait);
  if (!status.ok() || !gait.ok()) {
    return false;
  }
  const absl::Status fits = StatusOf(service::CheckSampleGaitFor(request, *gait));
  RequireOrderly(fits);
  if (fits.ok()) {
    RequireOrderly(service::SampleCycle(request, *gait));
  }
  return false;
}

// A session with the first gaits of the command that the library has.
std::optional<service::Session> Arm(Library* library,
                                    const v1::ArmSession& arm,
                                    const v1::Robot& robot,
                                    service::Session::Clock::time_point now) {
  std::vector<service::PlayableGait> gaits;
  for (const std::string& name : arm.gaits()) {
    const absl::StatusOr<v1::Gait> gait = service::LoadGoodGait(library, name);
    RequireOrderly(gait);
    if (!gait.ok()) {
      return std::nullopt;
    }
    gaits.push_back(service::MakePlayable(*gait, robot).value());
  }
  const absl::Status fits = StatusOf(service::CheckRateForGaits(arm.sample_rate_hz(), gaits));
  RequireOrderly(fits);
  if (!fits.ok()) {
    return std::nullopt;
  }
  auto sampler = service::SessionSampler::Create(
      std::move(gaits),
      robot,
      {.sample_rate_hz = arm.sample_rate_hz(), .drive_bits = arm.drive_bits()});
  RequireOrderly(sampler);
  if (!sampler.ok()) {
    return std::nullopt;
  }
  return service::Session(*std::move(sampler), arm, now);
}

void TakeResponses(service::Session* session,
                   const v1::Robot& robot,
                   service::Session::Clock::time_point now) {
  v1::PlaySessionResponse response;
  // A way down of a second in the shortest blocks.
  constexpr int kMostResponses = 10000;
  for (int i = 0; i < kMostResponses && session->NextResponse(now, &response); ++i) {
    RequireSafe(response.block(), robot);
  }
}

bool Call(Library* library, const Session& play) {
  if (play.messages().empty() || !play.messages(0).has_arm()) {
    return false;
  }
  v1::ArmSession arm = play.messages(0).arm();
  service::SetDefaults(&arm);
  const absl::Status status = StatusOf(service::CheckArm(arm));
  RequireOrderly(status);
  if (!status.ok()) {
    return false;
  }
  const v1::Robot robot = test::MakeQuadruped();
  service::Session::Clock::time_point now{};
  std::optional<service::Session> session = Arm(library, arm, robot, now);
  if (!session.has_value()) {
    return false;
  }
  for (int i = 1; i < play.messages_size() && !session->is_finished(); ++i) {
    session->Take(play.messages(i), now);
    TakeResponses(&*session, robot, now);
    now += std::chrono::milliseconds(std::abs(play.pause_ms() % 1000));
    session->CheckSilence(now);
  }
  session->LeadToRest(absl::UnavailableError("the session ends"));
  TakeResponses(&*session, robot, now);
  Require(session->is_finished(), "a session that is led to rest gives out the whole way");
  return false;
}

bool Call(Library* library, const Upload& upload) {
  constexpr std::int64_t kMostValues = 10000;
  service::TrialReceiver receiver(library, "fuzz", kMostValues);
  for (const v1::UploadTrialRequest& message : upload.messages()) {
    const absl::Status status = receiver.Take(message);
    RequireOrderly(status);
    if (!status.ok()) {
      return false;
    }
  }
  const auto stored = receiver.Store();
  RequireOrderly(stored);
  if (stored.ok()) {
    Require(library->GetTrial(stored->trial.name()).ok(), "a trial that was stored is there");
  }
  return stored.ok();
}

bool Call(Library* library, const v1::ExportBundleRequest& request) {
  std::string bytes;
  service::BundleWriter writer = WriterTo(&bytes);
  RequireOrderly(service::GatherBundle(library, request, &writer));
  return false;
}

bool CallOne(Library* library, const Request& request) {
  switch (request.call_case()) {
    case Request::kPutRobot:
      return Call(library, request.put_robot());
    case Request::kPutSurface:
      return Call(library, request.put_surface());
    case Request::kGetRobot:
      return Call(library, request.get_robot());
    case Request::kFindGait:
      return Call(library, request.find_gait());
    case Request::kGetGait:
      return Call(library, request.get_gait());
    case Request::kListGaits:
      return Call(library, request.list_gaits());
    case Request::kOrderGait:
      return Call(library, request.order_gait());
    case Request::kCancelJob:
      return Call(library, request.cancel_job());
    case Request::kListJobs:
      return Call(library, request.list_jobs());
    case Request::kStreamSetpoints:
      return Call(library, request.stream_setpoints());
    case Request::kSampleGait:
      return Call(library, request.sample_gait());
    case Request::kPlaySession:
      return Call(library, request.play_session());
    case Request::kUploadTrial:
      return Call(library, request.upload_trial());
    case Request::kListTrials:
      return Call(library, request.list_trials());
    case Request::kListCalibrations:
      return Call(library, request.list_calibrations());
    case Request::kExportBundle:
      return Call(library, request.export_bundle());
    case Request::kListChanges:
      return Call(library, request.list_changes());
    default:
      return false;
  }
}

// A robot, a surface and a good gait, so that requests find something.
void Fill(Library* library) {
  const v1::Robot robot = test::MakeQuadruped();
  const v1::Surface surface = test::MakeSurface(0.5);
  const v1::Gait gait = SampleGait();
  const std::string key =
      solver::OrderKey(gait.robot_digest(), gait.surface_digest(), OrderOf(gait));
  Require(library->PutRobot(robot, gait.robot_digest(), "fuzz").ok() &&
              library->PutSurface(surface, gait.surface_digest(), "fuzz").ok() &&
              library->InsertGait(gait, key).ok(),
          "the library takes what it begins with");
}

void Try(const Request& request) {
  static const FreshLibraries libraries(Fill);
  static std::unique_ptr<Library> library;
  if (library == nullptr) {
    library = libraries.Open("here.db");
  }
  if (CallOne(library.get(), request)) {
    library.reset();  // an input must not depend on the one before
  }
}

}  // namespace
}  // namespace gaitshelf::fuzz

GAITSHELF_FUZZ_MESSAGE(gaitshelf::fuzz::Request, gaitshelf::fuzz::Try);
