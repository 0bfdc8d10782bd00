// What sampling does to a trajectory: how fast it must be sampled, where content goes that is too
// fast, and how far a straight line between samples strays.
#ifndef GAITSHELF_SERVICE_PLAYBACK_SAMPLING_H_
#define GAITSHELF_SERVICE_PLAYBACK_SAMPLING_H_

#include <vector>

#include "gaitshelf/v1/gait.pb.h"

namespace gaitshelf::service {

// Frequency as which content at frequency_hz shows when sampled at sample_rate_hz:
//   |f - fs * round(f / fs)|
double AliasHz(double frequency_hz, double sample_rate_hz);

// Greatest error of a straight line between samples of a sine, over its amplitude:
//   1 - cos(pi / M)   with M samples per period, M at least 1
double LinearInterpolationErrorRatio(double samples_per_period);

// Lowest harmonic that can be called the end of a signal's content, Hz: all higher harmonics
// together have at most tail_ratio of the root mean square of all. The mean is left out; 0 for a
// constant.
//   samples     one period when is_periodic; otherwise a piece that is continued by its mirror
//   image
double HighestContentHz(const std::vector<double>& samples,
                        double sample_period_s,
                        bool is_periodic,
                        double tail_ratio);

// Highest content of a gait over all coordinates, Hz, where content ends as 3 % of the root mean
// square is left (common practice, no source).
struct GaitContent {
  double leg_position_hz = 0.0;
  double voltage_hz = 0.0;
};
GaitContent ContentOf(const v1::Gait& gait);

// Bound on how far straight lines between samples stray from the leg trajectories, m: the errors of
// all harmonics of a coordinate added up, the worst coordinate.
double LegLineErrorM(const v1::Gait& gait, double sample_rate_hz);

// Rate that a stream of the gait's leg trajectories must exceed, Hz: twice their highest content.
// Feed-forward voltage does not count: it jumps at touchdown, and is a help to the leg controller.
double LeastSampleRateHz(const v1::Gait& gait);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_SAMPLING_H_
