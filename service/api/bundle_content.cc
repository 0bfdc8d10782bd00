#include "service/api/bundle_content.h"

#include <algorithm>
#include <optional>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "service/api/status.h"
#include "service/playback/playable_gait.h"
#include "solver/base/status_macros.h"
#include "solver/robot/check.h"
#include "solver/robot/digest.h"

namespace gaitshelf::service {
namespace {

absl::StatusOr<std::vector<std::string>> GaitsToExport(Library* library,
                                                       const v1::ExportBundleRequest& request) {
  std::vector<std::string> names(request.gaits().begin(), request.gaits().end());
  if (!names.empty()) {
    if (!request.robot().empty() || !request.surface().empty() || request.only_good()) {
      v1::FieldViolation violation;
      violation.set_field("gaits");
      violation.set_value(absl::StrCat(names.size(), " names"));
      violation.set_problem("must not be given together with robot, surface or only_good");
      violation.set_mend("name the gaits, or say which ones are wanted");
      return InvalidRequest({violation});
    }
    return names;
  }
  PageRequest page{.page_size = 1000};
  do {
    GAITSHELF_ASSIGN_OR_RETURN(const GaitPage found,
                               library->ListGaits({.robot = request.robot(),
                                                   .surface = request.surface(),
                                                   .only_good = request.only_good()},
                                                  page));
    for (const v1::GaitSummary& gait : found.gaits) {
      names.push_back(gait.name());
    }
    page.page_token = found.next_page_token;
  } while (!page.page_token.empty());
  // As they were stored, the oldest first.
  std::reverse(names.begin(), names.end());
  return names;
}

// The surface that a gait was planned on, and the further ones.
std::vector<v1::SurfaceVersion> SurfacesOf(const v1::Gait& gait) {
  std::vector<v1::SurfaceVersion> surfaces = {gait.also_on().begin(), gait.also_on().end()};
  v1::SurfaceVersion first;
  first.set_surface(gait.surface());
  first.set_digest(gait.surface_digest());
  surfaces.insert(surfaces.begin(), first);
  return surfaces;
}

}  // namespace

absl::Status GatherBundle(Library* library,
                          const v1::ExportBundleRequest& request,
                          BundleWriter* writer) {
  GAITSHELF_ASSIGN_OR_RETURN(const std::vector<std::string> names, GaitsToExport(library, request));
  std::set<std::string> written;
  for (const std::string& name : names) {
    v1::BundleEntry entry;
    GAITSHELF_ASSIGN_OR_RETURN(const SharedBytes bytes, library->GetGaitBytes(name));
    entry.set_gait(*bytes);
    v1::Gait gait;
    if (!gait.ParseFromString(entry.gait())) {
      return absl::DataLossError(absl::StrCat("gait ", name, " cannot be read back"));
    }
    v1::BundleEntry description;
    if (written.insert(absl::StrCat("robot ", gait.robot(), gait.robot_digest())).second) {
      GAITSHELF_ASSIGN_OR_RETURN(v1::StoredRobot robot,
                                 library->GetRobot(gait.robot(), gait.robot_digest()));
      *description.mutable_robot() = std::move(*robot.mutable_robot());
      GAITSHELF_RETURN_IF_ERROR(writer->Add(description));
    }
    for (const v1::SurfaceVersion& version : SurfacesOf(gait)) {
      if (written.insert(absl::StrCat("surface ", version.surface(), version.digest())).second) {
        GAITSHELF_ASSIGN_OR_RETURN(v1::StoredSurface surface,
                                   library->GetSurface(version.surface(), version.digest()));
        *description.mutable_surface() = std::move(*surface.mutable_surface());
        GAITSHELF_RETURN_IF_ERROR(writer->Add(description));
      }
    }
    GAITSHELF_RETURN_IF_ERROR(writer->Add(entry));
  }
  return writer->Finish();
}

absl::StatusOr<BundleItem> BundleChecker::CheckGait(const std::string& bytes) {
  BundleItem item;
  v1::Gait& gait = item.gait.emplace();
  if (!gait.ParseFromString(bytes)) {
    return absl::InvalidArgumentError("a gait of the bundle cannot be read");
  }
  const auto refuse = [&gait](absl::string_view what) {
    return absl::InvalidArgumentError(
        absl::StrCat("gait '", gait.name(), "' of the bundle ", what));
  };
  // The name is a digest of the trajectory, so one that was changed does not get in.
  if (gait.name() != solver::GaitName(gait)) {
    return refuse("is not what its name says; export it again from where it was solved");
  }
  const auto robot = robots_.find({gait.robot(), gait.robot_digest()});
  bool is_after_them = robot != robots_.end();
  for (const v1::SurfaceVersion& version : SurfacesOf(gait)) {
    is_after_them = is_after_them && surfaces_.count({version.surface(), version.digest()}) > 0;
  }
  if (!is_after_them) {
    return refuse("does not come after the robot and surface that it was solved for");
  }
  // Whatever the library holds may be played.
  if (const absl::Status status = MakePlayable(gait, robot->second).status(); !status.ok()) {
    return refuse(absl::StrCat("cannot be played: ", status.message()));
  }
  v1::GaitOrder order;
  order.set_robot(gait.robot());
  order.set_surface(gait.surface());
  order.set_stride_frequency_hz(gait.stride_frequency_hz());
  *order.mutable_task() = gait.task();
  order.set_objective(gait.objective());
  std::vector<std::string> also_on_digests;
  for (const v1::SurfaceVersion& version : gait.also_on()) {
    order.add_also_on(version.surface());
    also_on_digests.push_back(version.digest());
  }
  if (const solver::Violations faults = solver::CheckOrder(order); !faults.empty()) {
    return InvalidRequest(faults);
  }
  item.key = solver::OrderKey(gait.robot_digest(), gait.surface_digest(), order, also_on_digests);
  return item;
}

absl::StatusOr<BundleItem> BundleChecker::Check(const v1::BundleEntry& entry) {
  BundleItem item;
  switch (entry.content_case()) {
    case v1::BundleEntry::kRobot:
      if (const solver::Violations faults = solver::CheckRobot(entry.robot()); !faults.empty()) {
        return InvalidRequest(faults);
      }
      item.robot = entry.robot();
      item.digest = solver::RobotDigest(entry.robot());
      robots_[{entry.robot().name(), item.digest}] = entry.robot();
      return item;
    case v1::BundleEntry::kSurface:
      if (const solver::Violations faults = solver::CheckSurface(entry.surface());
          !faults.empty()) {
        return InvalidRequest(faults);
      }
      item.surface = entry.surface();
      item.digest = solver::SurfaceDigest(entry.surface());
      surfaces_.emplace(entry.surface().name(), item.digest);
      return item;
    case v1::BundleEntry::kGait:
      return CheckGait(entry.gait());
    default:
      return absl::InvalidArgumentError("an entry of the bundle holds no robot, surface or gait");
  }
}

absl::StatusOr<v1::ImportBundleResponse> TakeBundle(Library* library,
                                                    const BundleReader::Source& source,
                                                    const std::string& requester) {
  BundleReader bundle(source);
  BundleChecker checker;
  return library->ImportBundle(
      [&]() -> absl::StatusOr<std::optional<BundleItem>> {
        GAITSHELF_ASSIGN_OR_RETURN(const std::optional<v1::BundleEntry> entry, bundle.Next());
        if (!entry.has_value()) {
          return std::nullopt;
        }
        return checker.Check(*entry);
      },
      requester);
}

}  // namespace gaitshelf::service
