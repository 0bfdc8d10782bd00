#include "solver/calibrate/predict.h"

#include <utility>

#include "solver/base/status_macros.h"
#include "solver/replay/limits.h"
#include "solver/replay/record.h"

namespace gaitshelf::solver {

absl::StatusOr<Prediction> PredictReplay(const PredictionRequest& request) {
  GAITSHELF_ASSIGN_OR_RETURN(Recording recording,
                             RecordReplay({.robot = request.robot,
                                           .surface = request.surface,
                                           .gait = request.gait,
                                           .cycle_count = ReplaySettings::kCycleCount,
                                           .stop = request.stop}));
  return Prediction{.replay = std::move(recording.simulated.report),
                    .trouble = std::move(recording.simulated.trouble)};
}

}  // namespace gaitshelf::solver
