#include "clients/cli/server_names.h"

#include <chrono>

namespace gaitshelf::client {
namespace {

constexpr std::chrono::seconds kNamePatience(1);
constexpr int kMostNames = 1000;

// Makes one call and adds the name of each thing in its answer; of none when it fails.
template <typename Stub, typename Request, typename Response, typename Names>
void Ask(Stub* stub,
         grpc::Status (Stub::*call)(grpc::ClientContext*, const Request&, Response*),
         const Request& request,
         const Names& add_names) {
  grpc::ClientContext context;
  context.set_deadline(std::chrono::system_clock::now() + kNamePatience);
  Response response;
  if ((stub->*call)(&context, request, &response).ok()) {
    add_names(response);
  }
}

template <typename Request>
Request LongPage() {
  Request request;
  request.set_page_size(kMostNames);
  return request;
}

}  // namespace

std::vector<std::string> ServerNames(const Connection& server, NameKind kind) {
  using Library = v1::LibraryService::Stub;
  std::vector<std::string> names;
  const auto add = [&names](const auto& things) {
    for (const auto& thing : things) {
      names.push_back(thing.name());
    }
  };
  switch (kind) {
    case NameKind::kRobot:
      Ask(server.library.get(),
          &Library::ListRobots,
          v1::ListRobotsRequest(),
          [&](const v1::ListRobotsResponse& answer) {
            for (const v1::StoredRobot& stored : answer.robots()) {
              names.push_back(stored.robot().name());
            }
          });
      break;
    case NameKind::kSurface:
      Ask(server.library.get(),
          &Library::ListSurfaces,
          v1::ListSurfacesRequest(),
          [&](const v1::ListSurfacesResponse& answer) {
            for (const v1::StoredSurface& stored : answer.surfaces()) {
              names.push_back(stored.surface().name());
            }
          });
      break;
    case NameKind::kGait:
      Ask(server.library.get(),
          &Library::ListGaits,
          LongPage<v1::ListGaitsRequest>(),
          [&](const v1::ListGaitsResponse& answer) { add(answer.gaits()); });
      break;
    case NameKind::kJob:
      Ask(server.jobs.get(),
          &v1::JobService::Stub::ListJobs,
          LongPage<v1::ListJobsRequest>(),
          [&](const v1::ListJobsResponse& answer) { add(answer.jobs()); });
      break;
    case NameKind::kTrial:
      Ask(server.trials.get(),
          &v1::TrialService::Stub::ListTrials,
          LongPage<v1::ListTrialsRequest>(),
          [&](const v1::ListTrialsResponse& answer) { add(answer.trials()); });
      break;
    case NameKind::kCalibration:
      // A hundred: each carries its robot.
      Ask(server.calibrations.get(),
          &v1::CalibrationService::Stub::ListCalibrations,
          v1::ListCalibrationsRequest(),
          [&](const v1::ListCalibrationsResponse& answer) { add(answer.calibrations()); });
      break;
  }
  return names;
}

}  // namespace gaitshelf::client
