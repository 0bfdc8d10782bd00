// The life of a job inside a worker. The solver here is a few lines that answer as each test wants;
// the real one runs in the end-to-end tests.
#include "service/jobs/worker_job.h"

#include <atomic>
#include <chrono>
#include <filesystem>
#include <new>
#include <optional>
#include <stdexcept>
#include <thread>
#include <vector>

#include "tests/service/jobs/job_fixture.h"
#include "tests/support/size_limit.h"

namespace gaitshelf::service {
namespace {

using testing::HasSubstr;

class WorkerJobTest : public JobFixture {
 protected:
  void SetUp() override {
    JobFixture::SetUp();
    job_ = Order("key");
    fence_ = Claim();
    solver_.plan = [this](const solver::PlanRequest& request, const solver::PlanControl&) {
      request_ = request;
      return Planned(v1::PLAN_OUTCOME_CONVERGED);
    };
    solver_.audit = [](const solver::AuditRequest&) { return Audited(v1::VERDICT_GOOD); };
  }
  static absl::StatusOr<v1::Gait> Planned(v1::PlanOutcome outcome) {
    v1::Gait gait;
    gait.set_name("g-1");
    gait.set_robot("weevil");
    gait.mutable_report()->set_outcome(outcome);
    if (outcome != v1::PLAN_OUTCOME_CONVERGED) {
      gait.mutable_report()->set_reason("the advance is beyond the reach");
    }
    return gait;
  }
  static absl::StatusOr<v1::Audit> Audited(v1::Verdict verdict) {
    v1::Audit audit;
    audit.set_verdict(verdict);
    if (verdict == v1::VERDICT_FAILED) {
      audit.add_reasons("the replay falls short");
    }
    return audit;
  }
  // A plan that goes on until it is told to stop.
  static absl::StatusOr<v1::Gait> PlanForEver(const solver::PlanControl& control) {
    v1::PlanCheckpoint checkpoint;
    checkpoint.set_round(7);
    control.on_checkpoint(checkpoint);
    while (!*control.stop) {
      std::this_thread::sleep_for(std::chrono::milliseconds(1));
    }
    return absl::CancelledError("stopped");
  }
  absl::StatusOr<JobRunEnd> Run() { return RunJob(library_.get(), fence_, solver_, options_); }

  std::string job_;
  JobFence fence_;
  JobSolver solver_;
  solver::PlanRequest request_;
  std::atomic<bool> stop_{false};
  RunJobOptions options_{.stop = &stop_,
                         .program_version = "9.9",
                         .host = "bench-host",
                         .poll_period_s = 0.005,
                         .storage_patience_s = 1};
};

TEST_F(WorkerJobTest, SolvesForTheVersionsThatWereOrdered) {
  ASSERT_THAT(Run(), test::IsOk());
  EXPECT_EQ(request_.robot.body().mass_kg(), 1e-3);  // not the newer one
  EXPECT_EQ(request_.surface.name(), "duct-steel");
  EXPECT_EQ(request_.order.stride_frequency_hz(), 12.0);
  EXPECT_FALSE(request_.checkpoint.has_value());
}

TEST_F(WorkerJobTest, StoresAGoodGaitWithAuditAndProvenance) {
  const auto end = Run();
  ASSERT_THAT(end, test::IsOk());
  EXPECT_EQ(*end, JobRunEnd::kEnded);
  EXPECT_EQ(Job(job_).state(), v1::JOB_STATE_DONE);
  EXPECT_EQ(Job(job_).gait(), "g-1");
  EXPECT_EQ(library_->FindBestGait("key")->name(), "g-1");
  v1::Gait gait;
  ASSERT_TRUE(gait.ParseFromString(**library_->GetGaitBytes("g-1")));
  EXPECT_EQ(gait.audit().verdict(), v1::VERDICT_GOOD);
  EXPECT_EQ(gait.provenance().requester(), "bench");
  EXPECT_EQ(gait.provenance().program_version(), "9.9");
  EXPECT_EQ(gait.provenance().host(), "bench-host");
  EXPECT_EQ(gait.provenance().job(), job_);
  EXPECT_EQ(gait.provenance().attempt(), 1);
  EXPECT_GT(gait.provenance().wall_s(), 0.0);
  EXPECT_GT(gait.provenance().create_time().seconds(), 1'000'000'000);
}

TEST_F(WorkerJobTest, PlansAgainWhatConvergedAndDoesNotReplay) {
  std::vector<v1::SeedPattern> patterns;
  solver_.plan = [&](const solver::PlanRequest& request, const solver::PlanControl& control) {
    patterns.push_back(request.order.options().seed_pattern());
    v1::PlanCheckpoint checkpoint;
    checkpoint.set_round(3);
    control.on_checkpoint(checkpoint);
    return Planned(v1::PLAN_OUTCOME_CONVERGED);
  };
  solver_.audit = [&](const solver::AuditRequest&) {
    return Audited(patterns.size() == 2 ? v1::VERDICT_GOOD : v1::VERDICT_FAILED);
  };
  EXPECT_EQ(*Run(), JobRunEnd::kEnded);
  EXPECT_EQ(Job(job_).state(), v1::JOB_STATE_DONE);
  EXPECT_THAT(patterns, testing::ElementsAre(v1::SEED_PATTERN_UNSPECIFIED, v1::SEED_PATTERN_WALK));
  v1::Gait gait;
  ASSERT_TRUE(gait.ParseFromString(**library_->GetGaitBytes(Job(job_).gait())));
  EXPECT_EQ(gait.report().variant(), 1);
}

TEST_F(WorkerJobTest, PlansAndAuditsOnAllSurfacesOfTheOrder) {
  const auto is_with_felt = [](const std::vector<v1::Surface>& also_on) {
    return also_on.size() == 1 && also_on[0].name() == "liner-felt";
  };
  bool is_planned = false;
  bool is_audited = false;
  solver_.plan = [&](const solver::PlanRequest& request, const solver::PlanControl&) {
    is_planned = request.surface.name() == "duct-steel" && is_with_felt(request.also_on);
    return Planned(v1::PLAN_OUTCOME_CONVERGED);
  };
  solver_.audit = [&](const solver::AuditRequest& request) {
    is_audited = is_with_felt(request.also_on);
    return Audited(v1::VERDICT_GOOD);
  };
  const std::string both = Order("key of both", true);
  fence_ = Claim();
  ASSERT_THAT(Run(), test::IsOk());
  EXPECT_TRUE(is_planned);
  EXPECT_TRUE(is_audited);
  EXPECT_EQ(Job(both).state(), v1::JOB_STATE_DONE);
}

TEST_F(WorkerJobTest, KeepsAGaitThatFailedItsAuditAndSaysWhy) {
  solver_.plan = [](const solver::PlanRequest&, const solver::PlanControl&) {
    return Planned(v1::PLAN_OUTCOME_INFEASIBLE);
  };
  solver_.audit = [](const solver::AuditRequest&) { return Audited(v1::VERDICT_FAILED); };
  EXPECT_EQ(*Run(), JobRunEnd::kEnded);
  EXPECT_EQ(Job(job_).state(), v1::JOB_STATE_FAILED);
  EXPECT_EQ(Job(job_).failure_reason(), "the advance is beyond the reach; the replay falls short");
  EXPECT_EQ(Job(job_).gait(), "g-1");
  EXPECT_THAT(library_->GetGaitBytes("g-1"), test::IsOk());
  EXPECT_TRUE(absl::IsNotFound(library_->FindBestGait("key").status()));
}

TEST_F(WorkerJobTest, SaysWhichIsTheNearestTaskThatIsMet) {
  // The order asks for 9 mm.
  solver_.plan = [](const solver::PlanRequest& request, const solver::PlanControl&) {
    return Planned(request.order.task().advance().advance_m() > 0.007 ? v1::PLAN_OUTCOME_INFEASIBLE
                                                                      : v1::PLAN_OUTCOME_CONVERGED);
  };
  solver_.audit = [](const solver::AuditRequest& request) {
    return Audited(request.gait.report().reason().empty() ? v1::VERDICT_GOOD : v1::VERDICT_FAILED);
  };
  EXPECT_EQ(*Run(), JobRunEnd::kEnded);
  EXPECT_EQ(Job(job_).state(), v1::JOB_STATE_FAILED);
  EXPECT_EQ(Job(job_).failure_reason(),
            "the advance is beyond the reach; the nearest that plans and replays is an advance of "
            "6.75 mm per cycle; the replay falls short");
  v1::Gait gait;
  ASSERT_TRUE(gait.ParseFromString(**library_->GetGaitBytes(Job(job_).gait())));
  EXPECT_EQ(gait.audit().verdict(), v1::VERDICT_FAILED);
}

TEST_F(WorkerJobTest, KeepsItsGaitUntilTheStorageHasRoomForIt) {
  options_.storage_patience_s = 60;
  std::optional<test::SizeLimit> limit;
  std::atomic<bool> is_full{false};
  solver_.audit = [&](const solver::AuditRequest&) {
    limit.emplace(std::filesystem::file_size(path_ + "-wal"));
    is_full = true;
    return Audited(v1::VERDICT_GOOD);
  };
  std::thread tidying([&] {
    EXPECT_TRUE(Await([&] { return is_full.load(); }));
    std::this_thread::sleep_for(std::chrono::milliseconds(200));
    EXPECT_TRUE(absl::IsNotFound(library_->GetGaitBytes("g-1").status()));
    limit.reset();
  });
  const auto end = Run();
  tidying.join();
  ASSERT_THAT(end, test::IsOk());
  EXPECT_EQ(Job(job_).state(), v1::JOB_STATE_DONE);
}

TEST_F(WorkerJobTest, ProgressDoesNotFallWhenAnotherVariantIsPlanned) {
  std::atomic<int> plan_count{0};
  const auto report = [](const solver::PlanControl& control, double done_ratio, int iteration) {
    v1::PlanProgress progress;
    progress.set_done_ratio(done_ratio);
    progress.set_iteration(iteration);
    control.on_progress(progress);
  };
  solver_.plan = [&](const solver::PlanRequest&, const solver::PlanControl& control) {
    const bool is_first = ++plan_count == 1;
    report(control, is_first ? 1.0 : 0.1, is_first ? 9 : 1);
    EXPECT_TRUE(Await([&] { return Job(job_).progress().iteration() == (is_first ? 9 : 1); }));
    EXPECT_EQ(Job(job_).progress().done_ratio(), 0.5);  // planning is half of the work
    return Planned(v1::PLAN_OUTCOME_CONVERGED);
  };
  solver_.audit = [&](const solver::AuditRequest&) {
    return Audited(plan_count == 1 ? v1::VERDICT_FAILED : v1::VERDICT_GOOD);
  };
  EXPECT_EQ(*Run(), JobRunEnd::kEnded);
  EXPECT_EQ(plan_count, 2);
}

TEST_F(WorkerJobTest, KeepsAGaitThatCouldNotBeAudited) {
  solver_.audit = [](const solver::AuditRequest&) -> absl::StatusOr<v1::Audit> {
    return absl::InvalidArgumentError("leg_position_m has 3 entries, 4 are needed");
  };
  EXPECT_EQ(*Run(), JobRunEnd::kEnded);
  EXPECT_EQ(Job(job_).state(), v1::JOB_STATE_FAILED);
  EXPECT_THAT(Job(job_).failure_reason(), HasSubstr("leg_position_m has 3 entries"));
  EXPECT_THAT(library_->GetGaitBytes("g-1"), test::IsOk());
}

TEST_F(WorkerJobTest, ShowsTheAuditAsAPhase) {
  solver_.audit = [this](const solver::AuditRequest& request) {
    EXPECT_EQ(request.gait.name(), "g-1");
    EXPECT_TRUE(Await([&] { return Job(job_).progress().phase() == v1::PLAN_PHASE_AUDITING; }));
    return Audited(v1::VERDICT_GOOD);
  };
  EXPECT_THAT(Run(), test::IsOk());
}

TEST_F(WorkerJobTest, AddsSpreadAndRivalToAGoodGait) {
  solver_.plan = [](const solver::PlanRequest&, const solver::PlanControl& control) {
    v1::PlanProgress progress;
    progress.set_done_ratio(1.0);
    control.on_progress(progress);
    return Planned(v1::PLAN_OUTCOME_CONVERGED);
  };
  solver_.spread = [this](const solver::SpreadRequest& request) -> absl::StatusOr<v1::Spread> {
    EXPECT_EQ(request.gait.name(), "g-1");
    EXPECT_EQ(request.robot.body().mass_kg(), 1e-3);
    EXPECT_EQ(request.replay_count, 16);
    EXPECT_LT(Job(job_).progress().done_ratio(), 0.6);
    for (int i = 0; i < request.replay_count; ++i) {
      request.on_replay();
    }
    EXPECT_TRUE(Await([&] { return Job(job_).progress().done_ratio() > 0.6; }));
    EXPECT_EQ(Job(job_).progress().phase(), v1::PLAN_PHASE_AUDITING);
    v1::Spread spread;
    spread.set_p05_m(0.0081);
    return spread;
  };
  solver_.hand_tuned =
      [](const solver::HandTunedRequest& request) -> absl::StatusOr<v1::HandTuned> {
    EXPECT_EQ(request.order.stride_frequency_hz(), 12.0);
    v1::HandTuned rival;
    rival.set_advance_m(0.0077);
    return rival;
  };
  EXPECT_EQ(*Run(), JobRunEnd::kEnded);
  EXPECT_EQ(library_->FindBestGait("key")->spread_p05_m(), 0.0081);
  EXPECT_EQ(library_->FindBestGait("key")->hand_tuned_advance_m(), 0.0077);
}

TEST_F(WorkerJobTest, KeepsAGoodGaitWhoseSpreadCouldNotBeComputed) {
  solver_.spread = [](const solver::SpreadRequest&) -> absl::StatusOr<v1::Spread> {
    throw std::bad_alloc();
  };
  EXPECT_EQ(*Run(), JobRunEnd::kEnded);
  EXPECT_EQ(Job(job_).state(), v1::JOB_STATE_DONE);
  EXPECT_EQ(library_->FindBestGait("key")->spread_p05_m(), 0.0);
}

TEST_F(WorkerJobTest, StopsDuringTheSpread) {
  solver_.spread = [this](const solver::SpreadRequest& request) -> absl::StatusOr<v1::Spread> {
    stop_ = true;
    EXPECT_TRUE(Await([&] { return request.stop->load(); }));
    return absl::CancelledError("stopped");
  };
  EXPECT_EQ(*Run(), JobRunEnd::kStopped);
  EXPECT_EQ(Job(job_).state(), v1::JOB_STATE_RUNNING);
}

TEST_F(WorkerJobTest, FailsWithTheFaultsOfTheRequest) {
  solver_.plan = [](const solver::PlanRequest&, const solver::PlanControl&) {
    return absl::StatusOr<v1::Gait>(absl::InvalidArgumentError("task is missing; give one"));
  };
  EXPECT_EQ(*Run(), JobRunEnd::kEnded);
  EXPECT_EQ(Job(job_).state(), v1::JOB_STATE_FAILED);
  EXPECT_EQ(Job(job_).failure_reason(), "task is missing; give one");
}

TEST_F(WorkerJobTest, FailsWithinReasonWhenTheSolverThrows) {
  solver_.plan = [](const solver::PlanRequest&,
                    const solver::PlanControl&) -> absl::StatusOr<v1::Gait> {
    throw std::runtime_error("a broken matrix");
  };
  EXPECT_EQ(*Run(), JobRunEnd::kEnded);
  EXPECT_THAT(Job(job_).failure_reason(), HasSubstr("a broken matrix"));
}

TEST_F(WorkerJobTest, SaysThatTheMemoryDidNotSuffice) {
  solver_.plan = [](const solver::PlanRequest&,
                    const solver::PlanControl&) -> absl::StatusOr<v1::Gait> {
    throw std::bad_alloc();
  };
  EXPECT_EQ(*Run(), JobRunEnd::kEnded);
  EXPECT_THAT(Job(job_).failure_reason(), HasSubstr("memory"));
}

TEST_F(WorkerJobTest, FailsWhenTheVersionIsNotThere) {
  JobOrder order;
  order.key = "another key";
  order.order.set_robot("weevil");
  order.order.set_surface("duct-steel");
  order.robot_digest = "lost-digest";
  ASSERT_THAT(library_->OrderJob(order), test::IsOk());
  fence_ = Claim();
  EXPECT_EQ(*Run(), JobRunEnd::kEnded);
  EXPECT_THAT(Job(fence_.job).failure_reason(), HasSubstr("lost-digest"));
}

TEST_F(WorkerJobTest, EndsAsCancelledWhenThatIsWanted) {
  solver_.plan = [this](const solver::PlanRequest&, const solver::PlanControl& control) {
    EXPECT_THAT(library_->RequestCancel(job_, "ada"), test::IsOk());
    return PlanForEver(control);
  };
  EXPECT_EQ(*Run(), JobRunEnd::kEnded);
  EXPECT_EQ(Job(job_).state(), v1::JOB_STATE_CANCELLED);
}

TEST_F(WorkerJobTest, LeavesAStoppedJobRunningWithItsCheckpoint) {
  solver_.plan = [this](const solver::PlanRequest&, const solver::PlanControl& control) {
    stop_ = true;
    return PlanForEver(control);
  };
  EXPECT_EQ(*Run(), JobRunEnd::kStopped);
  EXPECT_EQ(Job(job_).state(), v1::JOB_STATE_RUNNING);
  ASSERT_TRUE(library_->GetAttempt(fence_)->checkpoint.has_value());
  EXPECT_EQ(library_->GetAttempt(fence_)->checkpoint->round(), 7);
}

TEST_F(WorkerJobTest, StopsDuringTheAudit) {
  solver_.audit = [this](const solver::AuditRequest& request) -> absl::StatusOr<v1::Audit> {
    stop_ = true;
    EXPECT_TRUE(Await([&] { return request.stop->load(); }));
    return absl::CancelledError("stopped");
  };
  EXPECT_EQ(*Run(), JobRunEnd::kStopped);
  EXPECT_EQ(Job(job_).state(), v1::JOB_STATE_RUNNING);
}

TEST_F(WorkerJobTest, FailsWhenTheSolverStopsUnasked) {
  solver_.plan = [](const solver::PlanRequest&, const solver::PlanControl&) {
    return absl::StatusOr<v1::Gait>(absl::CancelledError("stopped for no reason"));
  };
  EXPECT_EQ(*Run(), JobRunEnd::kEnded);
  EXPECT_EQ(Job(job_).failure_reason(), "stopped for no reason");
}

TEST_F(WorkerJobTest, GoesOnFromTheCheckpoint) {
  v1::PlanCheckpoint checkpoint;
  checkpoint.set_round(4);
  ASSERT_THAT(library_->WriteCheckpoint(fence_, checkpoint), test::IsOk());
  EXPECT_THAT(Run(), test::IsOk());
  ASSERT_TRUE(request_.checkpoint.has_value());
  EXPECT_EQ(request_.checkpoint->round(), 4);
}

TEST_F(WorkerJobTest, StartsAnewWhenTheCheckpointIsOfNoUse) {
  ASSERT_THAT(library_->WriteCheckpoint(fence_, v1::PlanCheckpoint()), test::IsOk());
  int call_count = 0;
  solver_.plan = [&](const solver::PlanRequest& request, const solver::PlanControl&) {
    ++call_count;
    return request.checkpoint.has_value()
               ? absl::StatusOr<v1::Gait>(absl::InvalidArgumentError("checkpoint of layout 0"))
               : Planned(v1::PLAN_OUTCOME_CONVERGED);
  };
  EXPECT_EQ(*Run(), JobRunEnd::kEnded);
  EXPECT_EQ(call_count, 2);
  EXPECT_EQ(Job(job_).state(), v1::JOB_STATE_DONE);
}

TEST_F(WorkerJobTest, GivesWayToALaterAttempt) {
  solver_.plan = [this](const solver::PlanRequest&, const solver::PlanControl& control) {
    EXPECT_THAT(library_->RequeueLostJob(fence_, {.reason = "given up"}), test::IsOk());
    EXPECT_EQ(Claim().attempt, 2);
    return PlanForEver(control);
  };
  EXPECT_EQ(*Run(), JobRunEnd::kSuperseded);
  EXPECT_EQ(Job(job_).state(), v1::JOB_STATE_RUNNING);
  EXPECT_EQ(Job(job_).attempt(), 2);
  EXPECT_EQ(*Run(), JobRunEnd::kSuperseded);  // and does not even begin
}

TEST_F(WorkerJobTest, ReportsAJobThatIsNotThere) {
  fence_.job = "j-99";
  EXPECT_TRUE(absl::IsNotFound(Run().status()));
}

}  // namespace
}  // namespace gaitshelf::service
