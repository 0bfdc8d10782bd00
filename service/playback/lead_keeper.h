// How many samples a controller must be sent so that its buffer never runs dry, and whether it is
// still there. The controller's clock is the master: its messages say how many samples it has
// taken, and in between it is taken to go on at the nominal rate, so that its clock may drift and
// messages may be late. Knows times only as they are given to it.
#ifndef GAITSHELF_SERVICE_PLAYBACK_LEAD_KEEPER_H_
#define GAITSHELF_SERVICE_PLAYBACK_LEAD_KEEPER_H_

#include <chrono>
#include <cstdint>

namespace gaitshelf::service {

class LeadKeeper {
 public:
  using Clock = std::chrono::steady_clock;

  struct Options {
    double sample_rate_hz = 1000.0;
    double lead_s = 0.4;
    double silence_s = 0.5;
  };

  LeadKeeper(const Options& options, Clock::time_point now)
      : options_(options), heard_(now), moved_(now) {}

  void SetSampleRate(double sample_rate_hz) { options_.sample_rate_hz = sample_rate_hz; }

  // From now on the controller is expected to take samples.
  void Start(Clock::time_point now);

  // Takes a message: the controller has taken this many samples.
  void Hear(std::int64_t played_count, Clock::time_point now);

  // Returns the count of samples that should have been sent by now, of all since the start: the
  // lead ahead of what the controller will have taken.
  std::int64_t WantedCount(Clock::time_point now) const;

  // True when no message came for too long, or, once started, no sample was taken for too long.
  bool IsSilent(Clock::time_point now) const;

  std::int64_t played_count() const { return played_count_; }

 private:
  Options options_;
  bool is_started_ = false;
  std::int64_t played_count_ = 0;
  Clock::time_point heard_;
  Clock::time_point moved_;  // when played_count last grew
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_LEAD_KEEPER_H_
