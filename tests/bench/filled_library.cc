#include "tests/bench/filled_library.h"

#include <algorithm>
#include <chrono>
#include <memory>
#include <optional>

#include "absl/strings/str_format.h"
#include "service/library/open_library.h"
#include "solver/base/status_macros.h"
#include "solver/robot/digest.h"
#include "tests/end_to_end/house.h"

namespace gaitshelf::bench {
namespace {

// Gaits of one transaction: few enough for the journal to stay small beside the library.
constexpr int kBatch = 500;
constexpr double kFrequency_hz = 12.0;
constexpr double kAdvance_m = 0.009;

service::BundleItem CopyItem(const SolvedGait& solved, int index) {
  service::BundleItem item;
  const v1::GaitOrder order = CopyOrder(solved, index);
  item.key = solver::OrderKey(solved.robot.digest(), solved.surface.digest(), order);
  v1::Gait& gait = item.gait.emplace(solved.gait);
  gait.set_name(CopyName(index));
  gait.set_stride_frequency_hz(order.stride_frequency_hz());
  if (index % kRareGap == kRareGap - 1) {
    gait.set_robot(kRareRobot);
  }
  return item;
}

absl::Status FillDescriptions(service::Library* library, const SolvedGait& solved) {
  GAITSHELF_RETURN_IF_ERROR(
      library->PutRobot(solved.robot.robot(), solved.robot.digest(), "bench").status());
  return library->PutSurface(solved.surface.surface(), solved.surface.digest(), "bench").status();
}

}  // namespace

absl::StatusOr<SolvedGait> SolveGait(const std::string& robot, int knot_count) {
  test::House house;
  house.StartServer();
  house.PutDescriptions(robot);
  const std::string job = house.OrderAdvance(kFrequency_hz, kAdvance_m, knot_count);
  if (!house.AwaitEnd(job, std::chrono::hours(1)) ||
      house.GetJob(job).state() != v1::JOB_STATE_DONE) {
    return absl::InternalError("no gait was planned: " + house.ServerLog());
  }
  SolvedGait solved;
  solved.gait = house.GetGait(house.GetJob(job).gait());
  GAITSHELF_ASSIGN_OR_RETURN(solved.robot, house.library()->GetRobot(robot, ""));
  GAITSHELF_ASSIGN_OR_RETURN(solved.surface,
                             house.library()->GetSurface(solved.gait.surface(), ""));
  return solved;
}

std::string CopyName(int index) { return absl::StrFormat("g-%032x", index + 1); }

v1::GaitOrder CopyOrder(const SolvedGait& solved, int index) {
  v1::GaitOrder order;
  order.set_robot(solved.robot.robot().name());
  order.set_surface(solved.surface.surface().name());
  // Keys tell frequencies by the millihertz.
  order.set_stride_frequency_hz(1.0 + 1e-3 * index);
  order.mutable_task()->mutable_advance()->set_advance_m(kAdvance_m);
  return order;
}

absl::Status FillLibrary(const std::string& name, const SolvedGait& solved, int count) {
  GAITSHELF_ASSIGN_OR_RETURN(const std::unique_ptr<service::Library> library,
                             service::OpenLibrary(name, {}));
  GAITSHELF_RETURN_IF_ERROR(FillDescriptions(library.get(), solved));
  for (int first = 0; first < count; first += kBatch) {
    const int end = std::min(count, first + kBatch);
    int next = first;
    const auto source = [&]() -> absl::StatusOr<std::optional<service::BundleItem>> {
      return next < end ? std::optional(CopyItem(solved, next++)) : std::nullopt;
    };
    GAITSHELF_RETURN_IF_ERROR(library->ImportBundle(source, "bench").status());
  }
  return absl::OkStatus();
}

}  // namespace gaitshelf::bench
