// A share that goes from where it is to 0 or 1 and comes to rest there: a quintic in time, so that
// neither rate nor acceleration has a jump, also when it turns around half way.
#ifndef GAITSHELF_SERVICE_PLAYBACK_FADE_H_
#define GAITSHELF_SERVICE_PLAYBACK_FADE_H_

#include <array>

namespace gaitshelf::service {

class Fade {
 public:
  // Greatest rate of any fade over 1 / duration: 1.875 from rest to rest; 2.0071 when a fade up is
  // turned around at 0.657 of its duration, the worst place (own search over all places).
  static constexpr double kGreatestSlope = 2.0071;

  struct Value {
    double ratio = 0.0;
    double rate_per_s = 0.0;
    double acceleration_per_s2 = 0.0;
  };

  // Stands at a share.
  explicit Fade(double ratio) : end_ratio_(ratio) {}

  // Goes from a share that moves to `end_ratio`, which is 0 or 1.
  Fade(const Value& start, double end_ratio, double duration_s);

  // The share at a time after its start; at the end after its duration, which is 0 for a share that
  // stands.
  Value At(double time_s) const;

  double duration_s() const { return duration_s_; }
  double end_ratio() const { return end_ratio_; }

 private:
  double duration_s_ = 0.0;
  double end_ratio_;
  std::array<double, 6> coefficients_{};  // of powers of time over duration
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_FADE_H_
