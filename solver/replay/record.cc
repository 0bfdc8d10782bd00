#include "solver/replay/record.h"

#include <utility>

#include "solver/base/status_macros.h"
#include "solver/replay/gait_track.h"
#include "solver/replay/model_plant.h"
#include "solver/replay/replay_model.h"

namespace gaitshelf::solver {
namespace {

using Eigen::Index;

// Grows the recording by doubling and cuts it to size in the end.
class Recorder {
 public:
  Recorder(const RobotModel* model, double clamp_height_m)
      : model_(*model), clamp_height_m_(clamp_height_m) {
    Resize(1024);
  }

  void Add(const ReplaySample& sample) {
    if (count_ == recording_.body_pose.cols()) {
      Resize(2 * count_);
    }
    const Scale& scale = model_.scale();
    const Index base = model_.base_count();
    if (base > 0) {
      recording_.body_pose.col(count_).head(3) = sample.position.head(3) * scale.length_m;
      recording_.body_pose.col(count_).tail(3) = sample.position.segment(3, 3);
    }
    recording_.leg_position_m.col(count_) =
        sample.position.tail(2 * model_.leg_count()) * scale.length_m;
    recording_.voltage_v.col(count_) = sample.voltage_v;
    recording_.foot_force_n.col(count_) = sample.step.foot_forces * scale.force_n();
    FootKinematics foot;
    for (Index i = 0; i < model_.foot_count(); ++i) {
      model_.EvaluateFoot(sample.position, i, false, &foot);
      recording_.foot_position_m.col(count_).segment<3>(3 * i) = foot.position * scale.length_m;
    }
    ++count_;
  }

  Recording Take() {
    Resize(count_);
    return std::move(recording_);
  }

 private:
  void Resize(Index count) {
    recording_.body_pose.conservativeResize(6, count);
    recording_.leg_position_m.conservativeResize(2 * model_.leg_count(), count);
    recording_.voltage_v.conservativeResize(model_.drive_count(), count);
    recording_.foot_position_m.conservativeResize(3 * model_.foot_count(), count);
    recording_.foot_force_n.conservativeResize(3 * model_.foot_count(), count);
    if (model_.base_count() == 0 && count > count_) {
      const Index added = count - count_;
      recording_.body_pose.rightCols(added).setZero();
      recording_.body_pose.rightCols(added).row(2).setConstant(clamp_height_m_);
    }
  }

  const RobotModel& model_;
  const double clamp_height_m_;
  Recording recording_;
  Index count_ = 0;
};

}  // namespace

absl::StatusOr<Recording> RecordReplay(const RecordRequest& request) {
  GAITSHELF_ASSIGN_OR_RETURN(const RobotModel model,
                             CreateReplayModel(request.robot, request.surface));
  GAITSHELF_ASSIGN_OR_RETURN(const GaitTrack track, GaitTrack::Create(request.gait, model));
  ModelPlant plant(&model);
  Recorder recorder(&model, request.robot.body().clamp_height_m());
  SimulateRequest simulate;
  simulate.plant = &plant;
  simulate.track = &track;
  simulate.leg_controller = request.robot.leg_controller();
  simulate.cycle_count = request.cycle_count;
  simulate.stop = request.stop;
  simulate.on_step = [&recorder](const ReplaySample& sample) { recorder.Add(sample); };
  GAITSHELF_ASSIGN_OR_RETURN(Simulated simulated, SimulateGait(simulate));
  Recording recording = recorder.Take();
  recording.step_s = simulated.report.step_s();
  recording.simulated = std::move(simulated);
  return recording;
}

}  // namespace gaitshelf::solver
