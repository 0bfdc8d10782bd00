#include "service/access/role.h"

#include <array>

#include "absl/strings/strip.h"

namespace gaitshelf::service {
namespace {

struct Entry {
  absl::string_view call;
  Role role = Role::kReader;
};

// Every call of our services. Whoever adds a call adds a line; a test compares with proto/.
constexpr Entry kOurs[] = {
    {"CalibrationService/AcceptCalibration", Role::kPlanner},
    {"CalibrationService/Calibrate", Role::kPlanner},
    {"CalibrationService/GetCalibration", Role::kReader},
    {"CalibrationService/ListCalibrations", Role::kReader},
    {"CalibrationService/ReplayGait", Role::kReader},
    {"CareService/BackUp", Role::kKeeper},
    {"CareService/CollectGarbage", Role::kKeeper},
    {"CareService/ExportBundle", Role::kReader},
    {"CareService/ImportBundle", Role::kKeeper},
    {"CareService/ListChanges", Role::kReader},
    {"CareService/ListRetiredGaits", Role::kReader},
    {"CareService/ReinstateGait", Role::kKeeper},
    {"CareService/RetireGait", Role::kKeeper},
    {"JobService/CancelJob", Role::kPlanner},
    {"JobService/GetJob", Role::kReader},
    {"JobService/ListJobs", Role::kReader},
    {"JobService/OrderGait", Role::kPlanner},
    {"JobService/WatchJob", Role::kReader},
    {"LibraryService/FindGait", Role::kReader},
    {"LibraryService/GetGait", Role::kReader},
    {"LibraryService/GetRobot", Role::kReader},
    {"LibraryService/GetSurface", Role::kReader},
    {"LibraryService/ListGaits", Role::kReader},
    {"LibraryService/ListRobots", Role::kReader},
    {"LibraryService/ListSurfaces", Role::kReader},
    {"LibraryService/PutRobot", Role::kPlanner},
    {"LibraryService/PutSurface", Role::kPlanner},
    {"ModelService/CheckRobot", Role::kReader},
    {"ModelService/CheckSurface", Role::kReader},
    {"ModelService/FindModes", Role::kReader},
    {"ModelService/ReadRobot", Role::kReader},
    {"ModelService/ReadSurface", Role::kReader},
    // Both may arm a drive.
    {"PlaybackService/PlaySession", Role::kPlanner},
    {"PlaybackService/SampleGait", Role::kReader},
    {"PlaybackService/StreamSetpoints", Role::kPlanner},
    {"TrialService/AnalyseTrial", Role::kReader},
    {"TrialService/CompareTrial", Role::kReader},
    {"TrialService/GetTrial", Role::kReader},
    {"TrialService/ListTrials", Role::kReader},
    {"TrialService/StreamTrialPose", Role::kReader},
    {"TrialService/StreamTrialSamples", Role::kReader},
    {"TrialService/UploadTrial", Role::kPlanner},
};

// What gRPC itself serves.
constexpr Entry kOthers[] = {
    {"/grpc.health.v1.Health/Check", Role::kReader},
    {"/grpc.health.v1.Health/Watch", Role::kReader},
    {"/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo", Role::kReader},
};

constexpr std::array<absl::string_view, 3> kNames = {"reader", "planner", "keeper"};

}  // namespace

absl::string_view RoleName(Role role) { return kNames[static_cast<std::size_t>(role)]; }

std::optional<Role> ParseRole(absl::string_view name) {
  for (std::size_t i = 0; i < kNames.size(); ++i) {
    if (kNames[i] == name) {
      return static_cast<Role>(i);
    }
  }
  return std::nullopt;
}

std::optional<Role> NeededRole(absl::string_view method) {
  absl::string_view call = method;
  if (absl::ConsumePrefix(&call, "/gaitshelf.v1.")) {
    for (const Entry& entry : kOurs) {
      if (entry.call == call) {
        return entry.role;
      }
    }
  }
  for (const Entry& entry : kOthers) {
    if (entry.call == method) {
      return entry.role;
    }
  }
  return std::nullopt;
}

}  // namespace gaitshelf::service
