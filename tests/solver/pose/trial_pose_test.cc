#include "solver/pose/trial_pose.h"

#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "solver/base/constants.h"
#include "solver/measure/check_trial.h"
#include "tests/solver/measure/trials.h"
#include "tests/solver/pose/crawler.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::solver {
namespace {

using testing::HasSubstr;

constexpr double kDelayS = 0.03;

class TrialPoseTest : public testing::Test {
 protected:
  // A trial of two seconds: the controller's log at 1 kHz, the tracking's at 200 Hz and late.
  // Without rows of the given share.
  void Write(const std::vector<std::string>& own_labels, const std::vector<std::string>& tracked) {
    trial_.Clear();
    trial_.set_kind(v1::TRIAL_KIND_GAIT);
    trial_.set_gait("g-1");
    trial_.set_stride_frequency_hz(crawler_.frequency_hz);
    test::AddGroup("board", v1::TRIAL_CLOCK_ON_BOARD, own_labels, &trial_);
    test::AddGroup("camera", v1::TRIAL_CLOCK_TRACKING, tracked, &trial_);
    ASSERT_TRUE(ResolveTrial(PartsOf(crawl_.robot), &trial_).empty());
    table_ = std::make_unique<TrialTable>(&trial_);
    v1::TrialBlock board, camera;
    camera.set_group_index(1);
    for (int row = 0; row <= 2000; ++row) {
      const double time_s = 1e-3 * row;
      for (const std::string& label : own_labels) {
        board.add_values_as_labelled(Own(label, row, time_s));
      }
      for (const std::string& label : tracked) {
        if (row % 5 == 0) {
          camera.add_values_as_labelled(Tracked(label, time_s));
        }
      }
    }
    table_->Add(board);
    table_->Add(camera);
    table_->Finish();
  }

  double Own(const std::string& label, int row, double time_s) const {
    const double phase = crawler_.Phase(time_s);
    if (label == "time [s]") return time_s;
    if (label == "phase") return row % 7 == 3 ? kNan : phase;  // some are missing
    if (label == "leg-1 contact") return crawler_.Stands(0, phase) ? 1.0 : 0.0;
    const auto leg = static_cast<std::size_t>(label[4] - '1');
    return 1e3 * crawler_.Legs(phase)[2 * leg + (label.ends_with("swing [mm]") ? 1 : 0)];
  }

  double Tracked(const std::string& label, double time_s) const {
    const Pose pose = crawler_.Truth(time_s - kDelayS);
    if (label == "time [s]") return time_s;
    if (label == "body x [mm]") return 1e3 * pose[0];
    if (label == "body y [mm]") return 1e3 * pose[1];
    return pose[5] * 180.0 / std::numbers::pi;
  }

  absl::StatusOr<TrialPoseReport> Estimate(double rate_hz = 0.0, int most = 1000000) {
    times_.clear();
    worst_m_ = 0.0;
    return EstimateTrialPose({.table = table_.get(),
                              .gait = &crawl_.gait,
                              .plan = &crawl_.plan,
                              .delay_s = kDelayS,
                              .sample_rate_hz = rate_hz,
                              .on_pose = [&](double time_s, const Pose& pose) {
                                times_.push_back(time_s);
                                const Pose error = pose - crawler_.Truth(time_s);
                                if (time_s > 1.0) {
                                  worst_m_ = std::max(worst_m_, error.head<2>().norm());
                                }
                                return static_cast<int>(times_.size()) < most;
                              }});
  }

  test::Crawler crawler_{.slip_ratio = 0.03, .heading_rad = 0.5};
  test::PlannedCrawl crawl_{crawler_};
  v1::Trial trial_;
  std::unique_ptr<TrialTable> table_;
  std::vector<double> times_;
  double worst_m_ = 0.0;
  const std::vector<std::string> own_ = {"time [s]",
                                         "phase",
                                         "leg-1 contact",
                                         "leg-1 swing [mm]",
                                         "leg-2 swing [mm]",
                                         "leg-3 swing [mm]",
                                         "leg-4 swing [mm]"};
  const std::vector<std::string> tracked_ = {"time [s]",
                                             "body x [mm]",
                                             "body y [mm]",
                                             "body yaw [deg]"};
};

TEST_F(TrialPoseTest, KnowsThePresentAtEveryStep) {
  Write(own_, tracked_);
  const auto report = Estimate();
  ASSERT_THAT(report, test::IsOk());
  // 80 mm/s and 30 ms: the tracking itself is 2.3 mm behind.
  EXPECT_LT(worst_m_, 1e-4);
  EXPECT_EQ(report->pose_count, static_cast<std::int64_t>(times_.size()));
  EXPECT_NEAR(times_.front(), kDelayS, 1e-9);  // the first pose that was captured after the start
  EXPECT_EQ(times_.back(), 2.0);
  EXPECT_EQ(report->tracked_count, 401 - 6);
  EXPECT_EQ(report->left_out_count, 6);  // captured before the log began
}

TEST_F(TrialPoseTest, HandsOutFewerPosesOnDemandAndStopsWhenTold) {
  Write(own_, tracked_);
  ASSERT_THAT(Estimate(100.0), test::IsOk());
  EXPECT_EQ(times_.size(), 198U);
  EXPECT_NEAR(times_[1] - times_[0], 0.01, 1e-9);
  ASSERT_THAT(Estimate(0.0, 5), test::IsOk());
  EXPECT_EQ(times_.size(), 5U);
}

TEST_F(TrialPoseTest, LegsThatAreNotLoggedGoAsPlanned) {
  Write({"time [s]", "phase"}, tracked_);
  ASSERT_THAT(Estimate(), test::IsOk());
  EXPECT_LT(worst_m_, 1e-4);
}

TEST_F(TrialPoseTest, SaysWhatItLacks) {
  Write({"time [s]", "leg-1 swing [mm]"}, tracked_);
  EXPECT_THAT(Estimate(),
              test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("\"phase\"")));
  Write(own_, {"time [s]", "body yaw [deg]"});
  EXPECT_THAT(Estimate(),
              test::HasStatus(absl::StatusCode::kFailedPrecondition, HasSubstr("\"body x\"")));
  Write(own_, tracked_);
  EXPECT_THAT(Estimate(-1.0), test::HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("-1")));
}

}  // namespace
}  // namespace gaitshelf::solver
