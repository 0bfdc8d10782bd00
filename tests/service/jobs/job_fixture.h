// A library with one robot, one surface and jobs for them.
#ifndef GAITSHELF_TESTS_SERVICE_JOBS_JOB_FIXTURE_H_
#define GAITSHELF_TESTS_SERVICE_JOBS_JOB_FIXTURE_H_

#include <chrono>
#include <functional>
#include <memory>
#include <string>
#include <thread>
#include <utility>

#include <gtest/gtest.h>

#include "service/library/sqlite_library.h"
#include "tests/support/status_matchers.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::service {

class JobFixture : public testing::Test {
 protected:
  void SetUp() override {
    auto opened = OpenSqliteLibrary(path_, {.crash_limit = 3});
    ASSERT_THAT(opened, test::IsOk());
    library_ = std::move(*opened);
    v1::Robot robot;
    robot.set_name("weevil");
    robot.mutable_body()->set_mass_kg(1e-3);
    ASSERT_THAT(library_->PutRobot(robot, "robot-digest", "ada"), test::IsOk());
    robot.mutable_body()->set_mass_kg(2e-3);
    ASSERT_THAT(library_->PutRobot(robot, "newer-robot-digest", "ada"), test::IsOk());
    v1::Surface surface;
    surface.set_name("duct-steel");
    ASSERT_THAT(library_->PutSurface(surface, "surface-digest", "ada"), test::IsOk());
    surface.set_name("liner-felt");
    ASSERT_THAT(library_->PutSurface(surface, "felt-digest", "ada"), test::IsOk());
  }

  // Returns the name of a new job, which may be for the felt as well.
  std::string Order(const std::string& key, bool is_for_felt_too = false) {
    JobOrder order;
    order.key = key;
    order.order.set_robot("weevil");
    order.order.set_surface("duct-steel");
    order.order.set_stride_frequency_hz(12.0);
    order.order.mutable_task()->mutable_advance()->set_advance_m(0.009);
    order.robot_digest = "robot-digest";
    order.surface_digest = "surface-digest";
    order.requester = "bench";
    if (is_for_felt_too) {
      order.order.add_also_on("liner-felt");
      v1::SurfaceVersion& felt = order.also_on.emplace_back();
      felt.set_surface("liner-felt");
      felt.set_digest("felt-digest");
    }
    const auto ordered = library_->OrderJob(order);
    EXPECT_THAT(ordered, test::IsOk());
    return ordered.ok() ? ordered->job.name() : "";
  }
  JobFence Claim() {
    const auto claim = library_->ClaimNextJob("owner");
    EXPECT_TRUE(claim.ok() && claim->has_value());
    return {.job = (*claim)->job.name(), .attempt = (*claim)->job.attempt()};
  }
  v1::Job Job(const std::string& name) {
    const auto job = library_->GetJob(name);
    EXPECT_THAT(job, test::IsOk());
    return job.ok() ? *job : v1::Job();
  }
  // Waits for something to become true; false when it does not within ten seconds.
  static bool Await(const std::function<bool()>& is_true) {
    for (int i = 0; i < 1000; ++i) {
      if (is_true()) {
        return true;
      }
      std::this_thread::sleep_for(std::chrono::milliseconds(10));
    }
    return false;
  }
  bool AwaitState(const std::string& name, v1::JobState state) {
    return Await([&] { return Job(name).state() == state; });
  }

  test::TemporaryFolder folder_;
  const std::string path_ = folder_.File("library.db");
  std::unique_ptr<Library> library_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_TESTS_SERVICE_JOBS_JOB_FIXTURE_H_
