// How far gaits go on hidden robots before and after they were planned anew for what a calibration
// found. Figures only; who plans, calibrates and walks is hidden_robot_run.h.
#ifndef GAITSHELF_TESTS_BENCH_REPLANNED_STRIDES_H_
#define GAITSHELF_TESTS_BENCH_REPLANNED_STRIDES_H_

#include <string>
#include <vector>

#include "tests/bench/json.h"

namespace gaitshelf::bench {

// Strides on one hidden robot, m; 0 of a gait that falls.
struct Strides {
  double first_m = 0.0;  // of the gait for the description
  double new_m = 0.0;    // of the gait for what was calibrated
};

struct ReplannedFigures {
  int robot_count = 0;
  int first_fell_count = 0;
  int new_fell_count = 0;
  // Robots whose new gait goes further than the first; one whose first falls counts when the new
  // one walks.
  int further_count = 0;
  // New stride over first less 1, on the robots whose first gait walks; a new gait that falls makes
  // -1 of it. NaN when no first gait walks.
  double median_gain_ratio = 0.0;
  double lower_quartile_gain_ratio = 0.0;
  double upper_quartile_gain_ratio = 0.0;
  // With a stride that was asked for: size of stride over asked less 1, 1 for a gait that falls,
  // and robots where the new gait comes nearer.
  double asked_m = 0.0;  // 0 when as much as possible was asked for
  double first_median_off_ratio = 0.0;
  double new_median_off_ratio = 0.0;
  int nearer_count = 0;
};

// Figures of a number of robots, of which there may be none. `asked_m` is 0 where as much as
// possible was asked for.
ReplannedFigures FiguresOf(const std::vector<Strides>& strides, double asked_m);

// One robot in words: "first 8.81 mm, new 9.02 mm, +2.4 %".
std::string StridesText(const Strides& strides);

// All of them in a few lines for a person, and as members that are added to a report.
std::string FiguresText(const ReplannedFigures& figures);
void SetFigures(const ReplannedFigures& figures, const std::vector<Strides>& strides, Json* report);

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_REPLANNED_STRIDES_H_
