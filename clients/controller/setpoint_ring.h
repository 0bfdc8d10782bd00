// Hands setpoints from one thread to another without a lock and without allocation: one thread
// puts, one takes.
#ifndef GAITSHELF_CLIENTS_CONTROLLER_SETPOINT_RING_H_
#define GAITSHELF_CLIENTS_CONTROLLER_SETPOINT_RING_H_

#include <atomic>
#include <cstddef>
#include <vector>

#include "clients/controller/setpoint.h"

namespace gaitshelf::client {

class SetpointRing {
 public:
  // Has room for this many setpoints.
  explicit SetpointRing(std::size_t capacity) : slots_(capacity + 1) {}

  // Puts a copy in; false when there is no room. For the one thread that puts.
  bool Put(const Setpoint& setpoint) {
    const std::size_t at = put_.load(std::memory_order_relaxed);
    const std::size_t next = After(at);
    if (next == taken_.load(std::memory_order_acquire)) {
      return false;
    }
    slots_[at] = setpoint;
    put_.store(next, std::memory_order_release);
    return true;
  }

  // Takes the oldest; false when there is none. For the one thread that takes.
  bool Take(Setpoint* setpoint) {
    const std::size_t at = taken_.load(std::memory_order_relaxed);
    if (at == put_.load(std::memory_order_acquire)) {
      return false;
    }
    *setpoint = slots_[at];
    taken_.store(After(at), std::memory_order_release);
    return true;
  }

  // How many wait; for either thread, the other may change it meanwhile.
  std::size_t size() const {
    const std::size_t put = put_.load(std::memory_order_acquire);
    const std::size_t taken = taken_.load(std::memory_order_acquire);
    return put >= taken ? put - taken : put + slots_.size() - taken;
  }

 private:
  std::size_t After(std::size_t at) const { return at + 1 == slots_.size() ? 0 : at + 1; }

  std::vector<Setpoint> slots_;  // one stays empty, which tells a full ring from an empty one
  // On cache lines of their own: the threads would slow each other down otherwise.
  alignas(64) std::atomic<std::size_t> put_ = 0;
  alignas(64) std::atomic<std::size_t> taken_ = 0;
};

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CONTROLLER_SETPOINT_RING_H_
