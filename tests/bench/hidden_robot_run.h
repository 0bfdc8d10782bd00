// One hidden robot on its way: the gait for its description walks on it, trials of it calibrate the
// description, and the gait for what was found walks on it too. Invented data.
#ifndef GAITSHELF_TESTS_BENCH_HIDDEN_ROBOT_RUN_H_
#define GAITSHELF_TESTS_BENCH_HIDDEN_ROBOT_RUN_H_

#include "gaitshelf/v1/calibration.pb.h"
#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"
#include "gaitshelf/v1/task.pb.h"

#include "absl/status/statusor.h"
#include "tests/bench/replanned_strides.h"
#include "tests/support/hidden_robot.h"

namespace gaitshelf::bench {

// What is believed, and the gait that is planned for it.
struct Described {
  v1::Robot robot;
  v1::Surface surface;
  v1::GaitOrder order;
  v1::Gait gait;
};

// Plans the robot weevil-lumped on one of the demonstration's surfaces at 12 Hz, by the worker's
// variants. An advance of 0 asks for as much as possible.
//
// Errors:
//   kFailedPrecondition   no gait is good
absl::StatusOr<Described> Describe(const std::string& surface, double advance_m);

struct HiddenRun {
  test::HiddenRobot hidden;
  v1::Calibration calibration;
  Strides strides;
};

enum class CalibrateBy {
  kBench,  // ring-down and chirp of the legs, tilt of the surface
  kGait,   // 30 cycles of the gait, with noisy sensors and late tracking
};

// Hides the robot of this random number.
//
// Errors:
//   as Describe
//   as solver::Calibrate
absl::StatusOr<HiddenRun> RunHidden(const Described& described,
                                    CalibrateBy by,
                                    unsigned rng,
                                    int thread_count);

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_HIDDEN_ROBOT_RUN_H_
