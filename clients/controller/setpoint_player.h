// The side of the control loop: one setpoint a period, come what may. Never blocks, never
// allocates, and ends at rest by itself when setpoints run out.
#ifndef GAITSHELF_CLIENTS_CONTROLLER_SETPOINT_PLAYER_H_
#define GAITSHELF_CLIENTS_CONTROLLER_SETPOINT_PLAYER_H_

#include <atomic>
#include <cstddef>
#include <cstdint>
#include <limits>

#include "clients/controller/setpoint.h"
#include "clients/controller/setpoint_ring.h"

namespace gaitshelf::client {

enum class PlayState {
  kWaiting,  // at rest until the buffer is filled
  kPlaying,  // setpoints of the session
  kRamping,  // the buffer ran out or held nonsense: on an own way down
  kRested,   // at rest for good
};

class SetpointPlayer {
 public:
  // Begins to play when this many setpoints wait in the ring, which outlives the player.
  SetpointPlayer(SetpointRing* ring, const Limits& limits, std::size_t first_fill);

  // Gives the setpoint of this period. For the control loop, once a period.
  PlayState Next(Setpoint* setpoint);

  // Starts the own way down with the next period, whatever the ring holds; from any thread.
  void RampDown() { is_ramp_wanted_.store(true, std::memory_order_relaxed); }

  // Says that nothing more will come into the ring. A player that still waits for it to fill plays
  // what is there when that ends at rest, and rests at once otherwise. May be called again. For
  // the thread that puts.
  void EndInput(bool is_whole) {
    input_.store(is_whole ? Input::kWhole : Input::kBroken, std::memory_order_release);
  }

  // Setpoints of the session that the loop has taken; from any thread.
  std::int64_t played_count() const { return played_count_.load(std::memory_order_acquire); }
  // Times that the buffer ran out while it played: 0 or 1, since the way down has no way back.
  std::int64_t underrun_count() const { return underrun_count_.load(std::memory_order_acquire); }
  // Setpoints of the session that were not within the limits.
  std::int64_t held_back_count() const { return held_back_count_.load(std::memory_order_acquire); }
  // The fewest setpoints left in the ring after one was taken and before the end of the input.
  std::int64_t least_left_count() const {
    return least_left_count_.load(std::memory_order_acquire);
  }
  PlayState state() const { return state_.load(std::memory_order_acquire); }

 private:
  enum class Input { kComing, kWhole, kBroken };

  PlayState StateAfterWaiting() const;
  bool TakeNext(Setpoint* setpoint);
  void Hold(Setpoint* setpoint) const;
  void BeginRamp();
  void FollowRamp(Setpoint* setpoint);
  bool Clamp(Setpoint* setpoint);

  SetpointRing* ring_;
  const Limits limits_;
  const std::size_t first_fill_;
  Setpoint last_;
  // The way down: from here, so many periods ago.
  Setpoint ramp_start_;
  std::int64_t ramp_period_count_ = 0;
  std::atomic<bool> is_ramp_wanted_ = false;
  std::atomic<Input> input_ = Input::kComing;
  std::atomic<PlayState> state_ = PlayState::kWaiting;
  std::atomic<std::int64_t> played_count_ = 0;
  std::atomic<std::int64_t> underrun_count_ = 0;
  std::atomic<std::int64_t> held_back_count_ = 0;
  std::atomic<std::int64_t> least_left_count_ = std::numeric_limits<std::int64_t>::max();
};

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CONTROLLER_SETPOINT_PLAYER_H_
