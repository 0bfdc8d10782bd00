// A replay written down as a trial: the controller's log and a tracking system's, which lags.
// Without noise, unless it is asked for. Invented data.
#ifndef GAITSHELF_TESTS_SUPPORT_RECORDED_TRIAL_H_
#define GAITSHELF_TESTS_SUPPORT_RECORDED_TRIAL_H_

#include <cmath>
#include <cstddef>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/trial.pb.h"

#include "solver/replay/limits.h"
#include "solver/replay/record.h"
#include "tests/support/read_trial.h"

namespace gaitshelf::test {

struct RecordedTrial {
  v1::Trial trial{};
  std::vector<v1::TrialBlock> blocks{};  // one for each group
};

struct RecordingSensors {
  double weight_n = 0.0;
  double tracking_delay_s = 0.0;
  int tracking_stride = 4;  // steps of the replay for each row of the tracking system
  int on_board_stride = 2;
  // Standard deviations of white noise.
  double leg_noise_m = 0.0;
  double body_noise_m = 0.0;
  double body_noise_rad = 0.0;
  unsigned rng = 1;
};

inline void AddOnBoardRow(const solver::Recording& recording,
                          const v1::Gait& gait,
                          const RecordingSensors& sensors,
                          Eigen::Index i,
                          std::mt19937* generator,
                          v1::TrialBlock* block) {
  std::normal_distribution<double> normal;
  const double time_s = static_cast<double>(i + 1) * recording.step_s;
  const double cycles = time_s * gait.stride_frequency_hz();
  block->add_values_as_labelled(time_s);
  block->add_values_as_labelled(
      cycles - std::floor(cycles + 1e-9) > 0.0 ? cycles - std::floor(cycles + 1e-9) : 0.0);
  for (Eigen::Index k = 0; k < recording.leg_position_m.rows(); ++k) {
    block->add_values_as_labelled(
        1e3 * (recording.leg_position_m(k, i) + sensors.leg_noise_m * normal(*generator)));
    block->add_values_as_labelled(recording.voltage_v(k, i));
  }
  for (Eigen::Index foot = 0; foot < recording.foot_force_n.rows() / 3; ++foot) {
    const double load_n = recording.foot_force_n(3 * foot + 2, i);
    const bool stands = load_n > solver::ReplaySettings::kLoadedRatio * sensors.weight_n;
    block->add_values_as_labelled(stands ? 1.0 : 0.0);
  }
}

inline void AddTrackingRow(const solver::Recording& recording,
                           const RecordingSensors& sensors,
                           Eigen::Index i,
                           std::mt19937* generator,
                           v1::TrialBlock* block) {
  std::normal_distribution<double> normal;
  block->add_values_as_labelled(static_cast<double>(i + 1) * recording.step_s +
                                sensors.tracking_delay_s);
  for (Eigen::Index k = 0; k < 6; ++k) {
    const double noise = k < 3 ? sensors.body_noise_m : sensors.body_noise_rad;
    block->add_values_as_labelled((k < 3 ? 1e3 : 1.0) *
                                  (recording.body_pose(k, i) + noise * normal(*generator)));
  }
  for (Eigen::Index k = 0; k < recording.foot_position_m.rows(); ++k) {
    block->add_values_as_labelled(1e3 * recording.foot_position_m(k, i));
  }
}

inline RecordedTrial MakeRecordedTrial(const solver::Recording& recording,
                                       const v1::Gait& gait,
                                       const RecordingSensors& sensors) {
  RecordedTrial recorded;
  v1::Trial& trial = recorded.trial;
  trial.set_kind(v1::TRIAL_KIND_GAIT);
  trial.set_title("replay written down as a trial; invented data");
  trial.set_gait(gait.name());
  trial.set_stride_frequency_hz(gait.stride_frequency_hz());
  trial.set_is_invented(true);
  const auto add = [](const std::string& label, v1::TrialGroup* group) {
    group->add_columns()->set_label(label);
  };
  v1::TrialGroup* on_board = trial.add_groups();
  on_board->set_name("on-board");
  on_board->set_clock(v1::TRIAL_CLOCK_ON_BOARD);
  add("time [s]", on_board);
  add("phase", on_board);
  for (const std::string& leg : gait.leg_names()) {
    for (const char* coordinate : {" lift", " swing"}) {
      add(leg + coordinate + " [mm]", on_board);
      add(leg + coordinate + " voltage [V]", on_board);
    }
  }
  for (const std::string& foot : gait.foot_names()) {
    add(foot + " contact", on_board);
  }
  v1::TrialGroup* tracking = trial.add_groups();
  tracking->set_name("tracking");
  tracking->set_clock(v1::TRIAL_CLOCK_TRACKING);
  for (const char* label : {"time [s]",
                            "body x [mm]",
                            "body y [mm]",
                            "body z [mm]",
                            "body roll [rad]",
                            "body pitch [rad]",
                            "body yaw [rad]"}) {
    add(label, tracking);
  }
  for (const std::string& foot : gait.foot_names()) {
    for (const char* axis : {" x [mm]", " y [mm]", " z [mm]"}) {
      add(foot + axis, tracking);
    }
  }
  recorded.blocks.resize(2);
  recorded.blocks[1].set_group_index(1);
  std::mt19937 generator(sensors.rng);
  for (Eigen::Index i = 0; i < recording.sample_count(); ++i) {
    if (i % sensors.on_board_stride == 0) {
      AddOnBoardRow(recording, gait, sensors, i, &generator, &recorded.blocks[0]);
    }
    if (i % sensors.tracking_stride == 0) {
      AddTrackingRow(recording, sensors, i, &generator, &recorded.blocks[1]);
    }
  }
  return recorded;
}

inline ReadTrial ReadRecordedTrial(RecordedTrial recorded, const v1::Robot& robot) {
  ReadTrial read;
  *read.trial = std::move(recorded.trial);
  read.trial->set_name("t-gait");
  read.trial->set_robot(robot.name());
  read.blocks = std::move(recorded.blocks);
  read.Read(robot);
  return read;
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_RECORDED_TRIAL_H_
