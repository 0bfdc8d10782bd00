#include "service/api/ticker.h"

#include <algorithm>

namespace gaitshelf::service {

using Clock = std::chrono::steady_clock;

Ticker::Ticker(std::chrono::milliseconds period) : period_(period), thread_([this] { Run(); }) {}

Ticker::~Ticker() {
  stop_.Raise();
  thread_.join();
}

void Ticker::Add(Client* client) {
  const std::lock_guard<std::mutex> lock(mutex_);
  clients_.insert(client);
}

void Ticker::Remove(Client* client) {
  const std::lock_guard<std::mutex> lock(mutex_);
  clients_.erase(client);
}

void Ticker::Run() {
  Clock::time_point next = Clock::now() + period_;
  while (!stop_.WaitUntil(next)) {
    const Clock::time_point now = Clock::now();
    {
      const std::lock_guard<std::mutex> lock(mutex_);
      for (Client* client : clients_) {
        client->Tick(now);
      }
    }
    // After a stall the ticks that were missed are left out.
    next = std::max(next + period_, Clock::now());
  }
}

}  // namespace gaitshelf::service
