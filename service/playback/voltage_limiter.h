// Keeps one drive voltage inside the bimorph's range and rate of change, whatever is asked, and
// rounds it to the steps of the drive stage's converter.
#ifndef GAITSHELF_SERVICE_PLAYBACK_VOLTAGE_LIMITER_H_
#define GAITSHELF_SERVICE_PLAYBACK_VOLTAGE_LIMITER_H_

#include "gaitshelf/v1/robot.pb.h"

namespace gaitshelf::service {

// Rounds to the middle of one of 2^bits equal steps over min_v to max_v: the error is at most half
// a step over the whole range. Values outside are rounded to the nearest step inside.
class VoltageQuantiser {
 public:
  // bits 0 means no rounding.
  VoltageQuantiser(double min_v, double max_v, int bits);

  double step_v() const { return step_v_; }  // 0 without rounding
  double Round(double voltage_v) const;

 private:
  double min_v_;
  double max_v_;
  double step_v_;
  double last_step_;  // number of the uppermost step
};

class VoltageLimiter {
 public:
  // Starts at the rest voltage: the bias, rounded.
  VoltageLimiter(const v1::Bimorph& bimorph, double sample_period_s, int drive_bits);

  // Returns the voltage of the next sample: as near to the target as range and rate of change since
  // the sample before allow.
  double Next(double target_v);

  // Goes on with another time between samples.
  void SetSamplePeriod(double sample_period_s);

  double rest_v() const { return rest_v_; }
  bool is_at_rest() const { return last_v_ == rest_v_; }
  // False when one step of the converter is more than the bimorph may move in a sample: then no
  // motion at all would be allowed.
  bool can_move() const { return quantiser_.step_v() <= reach_v_; }

 private:
  VoltageQuantiser quantiser_;
  double min_v_;
  double max_v_;
  double slew_v_per_s_;
  double reach_v_ = 0.0;  // greatest change in a sample
  double rest_v_;
  double last_v_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_VOLTAGE_LIMITER_H_
