// What every backend of the library must keep. The *_contract.h beside this file hold the tests; a
// backend's own test file includes them and instantiates them with its factory.
#ifndef GAITSHELF_TESTS_SERVICE_LIBRARY_LIBRARY_CONTRACT_H_
#define GAITSHELF_TESTS_SERVICE_LIBRARY_LIBRARY_CONTRACT_H_

#include <functional>
#include <memory>
#include <string>
#include <utility>

#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "service/library/library.h"
#include "tests/support/status_matchers.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::service {

struct ContractLimits {
  int queue_limit = 1000;
  int jobs_per_member = 0;
  int crash_limit = 5;
};

struct LibraryFactory {
  std::string name;
  // Opens the library that belongs to a folder; the same folder again gives the same content.
  std::function<absl::StatusOr<std::unique_ptr<Library>>(const std::string& folder,
                                                         const ContractLimits& limits)>
      open;
};

inline std::string FactoryName(const testing::TestParamInfo<LibraryFactory>& info) {
  return info.param.name;
}

class LibraryContract : public testing::TestWithParam<LibraryFactory> {
 protected:
  void SetUp() override { Reopen(); }

  void Reopen(const ContractLimits& limits = {}) {
    library_.reset();
    absl::StatusOr<std::unique_ptr<Library>> opened = GetParam().open(folder_.path(), limits);
    ASSERT_THAT(opened, test::IsOk());
    library_ = std::move(*opened);
  }
  // A second opening of the same library, as another process has it.
  std::unique_ptr<Library> OpenSecond() {
    absl::StatusOr<std::unique_ptr<Library>> opened = GetParam().open(folder_.path(), {});
    EXPECT_THAT(opened, test::IsOk());
    return opened.ok() ? std::move(*opened) : nullptr;
  }

  test::TemporaryFolder folder_;
  std::unique_ptr<Library> library_;
};

inline v1::Gait MakeStoredGait(const std::string& name, v1::Verdict verdict, double cost_ratio) {
  v1::Gait gait;
  gait.set_name(name);
  gait.set_robot("weevil");
  gait.set_robot_digest("robot-digest-1");
  gait.set_surface("duct-steel");
  gait.set_surface_digest("surface-digest-1");
  gait.set_stride_frequency_hz(12.0);
  gait.mutable_task()->mutable_advance()->set_advance_m(0.009);
  gait.set_advance_m(0.009);
  gait.set_knot_count(2);
  gait.add_leg_position_m(0.001);
  gait.mutable_report()->set_cost_ratio(cost_ratio);
  gait.mutable_report()->set_solve_s(0.5);
  gait.mutable_audit()->set_verdict(verdict);
  gait.mutable_audit()->mutable_replay()->set_advance_m(0.0088);
  gait.mutable_audit()->mutable_residuals()->set_worst_ratio(3e-8);
  gait.mutable_provenance()->set_requester("bench");
  return gait;
}

inline v1::SurfaceVersion MakeSurfaceVersion(const std::string& surface,
                                             const std::string& digest) {
  v1::SurfaceVersion version;
  version.set_surface(surface);
  version.set_digest(digest);
  return version;
}

inline JobOrder MakeJobOrder(const std::string& key) {
  JobOrder order;
  order.key = key;
  order.order.set_robot("weevil");
  order.order.set_surface("duct-steel");
  order.order.set_stride_frequency_hz(12.0);
  order.order.mutable_task()->mutable_advance()->set_advance_m(0.009);
  order.robot_digest = "robot-digest-1";
  order.surface_digest = "surface-digest-1";
  order.requester = "bench";
  return order;
}

inline JobFence FenceOf(const v1::Job& job) {
  return {.job = job.name(), .attempt = job.attempt()};
}

// Orders a job and takes it from the queue.
inline JobFence StartJob(Library* library, const std::string& key) {
  EXPECT_THAT(library->OrderJob(MakeJobOrder(key)), test::IsOk());
  const absl::StatusOr<std::optional<JobAttempt>> claim = library->ClaimNextJob("owner");
  EXPECT_THAT(claim, test::IsOk());
  return claim.ok() && claim->has_value() ? FenceOf((*claim)->job) : JobFence{};
}

}  // namespace gaitshelf::service

#endif  // GAITSHELF_TESTS_SERVICE_LIBRARY_LIBRARY_CONTRACT_H_
