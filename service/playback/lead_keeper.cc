#include "service/playback/lead_keeper.h"

#include <algorithm>
#include <cmath>

namespace gaitshelf::service {
namespace {

using Seconds = std::chrono::duration<double>;

// How long a controller that is not heard is taken to go on. Twice the stalls that were measured on
// a busy machine (0.16 s); it bounds what is sent to one that is gone.
constexpr double kLongestGuess_s = 0.3;

double Since(LeadKeeper::Clock::time_point time, LeadKeeper::Clock::time_point now) {
  return std::max(0.0, Seconds(now - time).count());
}

}  // namespace

void LeadKeeper::Start(Clock::time_point now) {
  is_started_ = true;
  moved_ = now;
}

void LeadKeeper::Hear(std::int64_t played_count, Clock::time_point now) {
  if (played_count > played_count_) {
    moved_ = now;
  }
  played_count_ = played_count;
  heard_ = now;
}

std::int64_t LeadKeeper::WantedCount(Clock::time_point now) const {
  // A controller that has not begun to play waits for its buffer to fill.
  const double guess_s = played_count_ == 0 ? 0.0 : std::min(Since(heard_, now), kLongestGuess_s);
  return played_count_ + static_cast<std::int64_t>(
                             std::ceil((guess_s + options_.lead_s) * options_.sample_rate_hz));
}

bool LeadKeeper::IsSilent(Clock::time_point now) const {
  return Since(heard_, now) > options_.silence_s ||
         (is_started_ && Since(moved_, now) > options_.silence_s);
}

}  // namespace gaitshelf::service
