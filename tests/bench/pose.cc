// Measures the pose estimator on replayed gaits, whose truth is known: its error against taking the
// late tracking as it is and against extrapolating it, and its time a step.
// Usage: pose [--json FILE]
//
// weevil's gaits are planned and replayed under the leg controller; made-up sensors read the
// replay: legs at 1 kHz, a tracking system at 200 Hz that is late. Contacts are those of the plan,
// which the robot keeps more or less. The extrapolation is a straight line through the last few
// tracked poses, with the number of them that does best in the very case.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <random>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "solver/plan/plan_gait.h"
#include "solver/pose/pose_estimator.h"
#include "solver/replay/record.h"
#include "tests/bench/json.h"
#include "tests/bench/options.h"
#include "tests/bench/quantile.h"
#include "tests/support/demo.h"

namespace {

using gaitshelf::bench::Json;
using gaitshelf::bench::Quantile;
using gaitshelf::bench::WriteJson;
using gaitshelf::solver::PlannedCycle;
using gaitshelf::solver::Pose;
using gaitshelf::solver::PoseEstimator;
using gaitshelf::solver::Recording;

constexpr double kStepS = 1e-3;
constexpr int kStepsPerTracked = 5;
constexpr double kLegNoiseM = 5e-6;
constexpr double kTrackedNoiseM = 5e-5;
constexpr double kTrackedNoiseRad = 5e-3;
constexpr double kSettleS = 0.3;  // left out at the start

struct Walk {
  gaitshelf::v1::Robot robot;
  gaitshelf::v1::Surface surface;
  gaitshelf::v1::Gait gait;
  Recording recording;

  // Column of the recording at a time, on the line between its samples.
  Eigen::VectorXd At(const Eigen::MatrixXd& samples, double time_s) const {
    const double place = time_s / recording.step_s - 1.0;  // the first is one step after the start
    const auto left = std::clamp<Eigen::Index>(
        static_cast<Eigen::Index>(std::floor(place)), 0, samples.cols() - 2);
    const double part = place - static_cast<double>(left);
    return samples.col(left) + part * (samples.col(left + 1) - samples.col(left));
  }
  double duration_s() const {
    return recording.step_s * static_cast<double>(recording.sample_count() - 1);
  }
};

struct Error {
  double square_m2 = 0.0;
  double square_rad2 = 0.0;
  int count = 0;

  void Add(const Pose& estimate, const Pose& truth) {
    square_m2 += (estimate - truth).head<2>().squaredNorm();
    square_rad2 += std::pow(estimate[5] - truth[5], 2);
    ++count;
  }
  double rms_m() const { return std::sqrt(square_m2 / count); }
  double rms_rad() const { return std::sqrt(square_rad2 / count); }
};

struct Outcome {
  std::string label;
  double delay_s = 0.0;
  Error late, best_line, estimate;
  int best_line_count = 0;
  double p50_us = 0.0, p99_us = 0.0, most_us = 0.0;
};

struct TrackedPose {
  double capture_s;
  Pose pose;
};

// The line through the last `count` tracked poses, at a time.
Pose Extrapolate(const std::vector<TrackedPose>& tracked, std::size_t count, double time_s) {
  const std::size_t first = tracked.size() - std::min(count, tracked.size());
  Pose mean = Pose::Zero(), slope = Pose::Zero();
  double mean_s = 0.0, square = 0.0;
  const auto n = static_cast<double>(tracked.size() - first);
  for (std::size_t i = first; i < tracked.size(); ++i) {
    mean += tracked[i].pose / n;
    mean_s += tracked[i].capture_s / n;
  }
  for (std::size_t i = first; i < tracked.size(); ++i) {
    slope += (tracked[i].capture_s - mean_s) * tracked[i].pose;
    square += std::pow(tracked[i].capture_s - mean_s, 2);
  }
  return square > 0.0 ? Pose(mean + slope * ((time_s - mean_s) / square)) : mean;
}

Outcome Run(const Walk& walk, const PlannedCycle& plan, double delay_s) {
  constexpr int kLineCounts[] = {2, 4, 8, 16, 32};
  PoseEstimator estimator = PoseEstimator::Create(&plan, {}).value();
  std::mt19937 generator(1);
  std::normal_distribution<double> normal(0.0, 1.0);
  std::vector<TrackedPose> tracked;
  std::vector<double> times_us;
  std::vector<Error> lines(std::size(kLineCounts));
  Outcome outcome;
  outcome.delay_s = delay_s;
  const int steps = static_cast<int>(walk.duration_s() / kStepS);
  for (int i = 1; i <= steps; ++i) {
    const double time_s = i * kStepS;
    const Pose truth = walk.At(walk.recording.body_pose, time_s);
    const Eigen::VectorXd legs = walk.At(walk.recording.leg_position_m, time_s);
    std::vector<double> measured(legs.begin(), legs.end());
    for (double& value : measured) {
      value += kLegNoiseM * normal(generator);
    }
    const double capture_s = time_s - delay_s;
    const bool arrives = i % kStepsPerTracked == 0 && capture_s >= kStepS;
    if (arrives) {
      Pose pose = walk.At(walk.recording.body_pose, capture_s);
      for (int k = 0; k < 6; ++k) {
        pose[k] += (k < 3 ? kTrackedNoiseM : kTrackedNoiseRad) * normal(generator);
      }
      tracked.push_back({capture_s, pose});
    }
    const double phase = time_s / plan.period_s();
    const auto start = std::chrono::steady_clock::now();
    estimator.AddStep(
        {.time_s = time_s, .phase_ratio = phase - std::floor(phase), .leg_position_m = measured});
    if (arrives) {
      estimator.AddTracking(capture_s, tracked.back().pose);
    }
    const Pose present = estimator.Present();
    const std::chrono::duration<double> taken = std::chrono::steady_clock::now() - start;
    times_us.push_back(1e6 * taken.count());
    if (time_s < kSettleS) {
      continue;
    }
    outcome.estimate.Add(present, truth);
    outcome.late.Add(tracked.back().pose, truth);
    for (std::size_t k = 0; k < lines.size(); ++k) {
      lines[k].Add(Extrapolate(tracked, static_cast<std::size_t>(kLineCounts[k]), time_s), truth);
    }
  }
  const auto best =
      std::min_element(lines.begin(), lines.end(), [](const Error& a, const Error& b) {
        return a.square_m2 < b.square_m2;
      });
  outcome.best_line = *best;
  outcome.best_line_count = kLineCounts[best - lines.begin()];
  outcome.p50_us = Quantile(times_us, 0.5);
  outcome.p99_us = Quantile(times_us, 0.99);
  outcome.most_us = Quantile(times_us, 1.0);
  return outcome;
}

void Print(const Outcome& outcome) {
  std::printf(
      "%-18s %3.0f ms late: tracking %6.3f mm %5.2f deg, best line (%2d) %6.3f mm %5.2f deg, "
      "estimate %6.3f mm %5.2f deg; step p50 %5.1f p99 %5.1f most %6.1f us\n",
      outcome.label.c_str(),
      1e3 * outcome.delay_s,
      1e3 * outcome.late.rms_m(),
      57.29578 * outcome.late.rms_rad(),
      outcome.best_line_count,
      1e3 * outcome.best_line.rms_m(),
      57.29578 * outcome.best_line.rms_rad(),
      1e3 * outcome.estimate.rms_m(),
      57.29578 * outcome.estimate.rms_rad(),
      outcome.p50_us,
      outcome.p99_us,
      outcome.most_us);
  std::fflush(stdout);
}

Json Row(const Outcome& outcome) {
  return Json::Object()
      .Set("walk", outcome.label)
      .Set("delay_s", outcome.delay_s)
      .Set("late_rms_m", outcome.late.rms_m())
      .Set("late_rms_rad", outcome.late.rms_rad())
      .Set("line_count", outcome.best_line_count)
      .Set("line_rms_m", outcome.best_line.rms_m())
      .Set("line_rms_rad", outcome.best_line.rms_rad())
      .Set("estimate_rms_m", outcome.estimate.rms_m())
      .Set("estimate_rms_rad", outcome.estimate.rms_rad())
      .Set("step_p50_us", outcome.p50_us)
      .Set("step_p99_us", outcome.p99_us)
      .Set("step_most_us", outcome.most_us);
}

// Plans and replays a gait; says why on failure.
absl::StatusOr<Walk> MakeWalk(const std::string& surface, double frequency_hz) {
  Walk walk;
  walk.robot = gaitshelf::test::ReadDemoRobot("weevil");
  walk.surface = gaitshelf::test::ReadDemoSurface(surface);
  gaitshelf::v1::GaitOrder order;
  order.set_robot(walk.robot.name());
  order.set_surface(surface);
  order.set_stride_frequency_hz(frequency_hz);
  order.mutable_task()->mutable_advance()->set_advance_m(0.009);
  const auto gait = gaitshelf::solver::PlanGait(
      {.robot = walk.robot, .surface = walk.surface, .order = order}, {});
  if (!gait.ok()) {
    return gait.status();
  }
  walk.gait = *gait;
  const int cycles = std::max(6, static_cast<int>(2.5 * frequency_hz));
  auto recording = gaitshelf::solver::RecordReplay(
      {.robot = walk.robot, .surface = walk.surface, .gait = walk.gait, .cycle_count = cycles});
  if (!recording.ok()) {
    return recording.status();
  }
  if (!recording->simulated.trouble.empty()) {
    return absl::InternalError(recording->simulated.trouble);
  }
  walk.recording = *std::move(recording);
  return walk;
}

}  // namespace

int main(int argc, char** argv) {
  std::string json;
  if (!gaitshelf::bench::OptionReader("pose").Text("--json", "FILE", &json).Read(argc, argv)) {
    return 2;
  }
  Json rows = Json::List();
  for (const auto& [surface, frequency_hz] : std::vector<std::pair<std::string, double>>{
           {"liner-felt", 3.0}, {"liner-felt", 12.0}, {"duct-steel", 12.0}, {"liner-felt", 28.0}}) {
    const auto walk = MakeWalk(surface, frequency_hz);
    if (!walk.ok()) {
      std::fprintf(stderr, "pose: %s\n", walk.status().ToString().c_str());
      return 1;
    }
    const auto plan =
        PlannedCycle::Create({.robot = walk->robot, .surface = walk->surface, .gait = walk->gait});
    if (!plan.ok()) {
      std::fprintf(stderr, "pose: %s\n", plan.status().ToString().c_str());
      return 1;
    }
    for (const double delay_s : {0.02, 0.04, 0.08}) {
      Outcome outcome = Run(*walk, *plan, delay_s);
      outcome.label = absl::StrFormat("%s %g Hz", surface, frequency_hz);
      Print(outcome);
      rows.Add(Row(outcome));
    }
  }
  return WriteJson(Json::Object().Set("cases", rows), "pose", json);
}
