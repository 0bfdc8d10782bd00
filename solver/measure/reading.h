// Values of a channel at any time, on the controller's clock.
#ifndef GAITSHELF_SOLVER_MEASURE_READING_H_
#define GAITSHELF_SOLVER_MEASURE_READING_H_

#include <cstddef>
#include <vector>

#include "absl/types/span.h"
#include "solver/measure/trial_table.h"

namespace gaitshelf::solver {

class Reading {
 public:
  struct Options {
    // Time of a row on the channel's own clock less its time on the controller's, s.
    double shift_s = 0.0;
    // True for angles in rad, which go the shorter way round between samples.
    bool is_angle = false;
  };

  Reading() = default;
  Reading(const Channel& channel, const Options& options) : channel_(channel), options_(options) {}

  explicit operator bool() const { return static_cast<bool>(channel_); }
  const Channel& channel() const { return channel_; }

  // Linear between the samples around a time; NaN outside of the record and where samples are
  // missing over more than a few intervals. Fast when times rise from call to call.
  double At(double time_s);
  // Time of a row on the controller's clock.
  double TimeOf(std::size_t row) const { return (*channel_.time_s)[row] - options_.shift_s; }
  std::size_t row_count() const { return channel_ ? channel_.values->size() : 0; }
  double first_s() const { return TimeOf(0); }
  double last_s() const { return TimeOf(row_count() - 1); }

 private:
  Channel channel_;
  Options options_;
  std::size_t row_ = 0;  // last row at or before the time of the last call
};

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_READING_H_
