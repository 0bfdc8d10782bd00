// A control loop to begin from: arms one gait, plays it for some seconds and comes to rest. Where
// the setpoints would go to a leg controller and drive stage, it only keeps count.
//
// usage: control_loop ADDRESS GAIT SECONDS
//
// A server on another machine wants to know who calls: GAITSHELF_IDENTITY names the folder.
#include <cerrno>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <future>
#include <optional>
#include <string>
#include <thread>

#include "clients/channel/channel.h"
#include "clients/controller/controller.h"

namespace {

using gaitshelf::client::Controller;
using gaitshelf::client::ControllerOptions;
using gaitshelf::client::PlayState;
using gaitshelf::client::Setpoint;

constexpr long kPeriod_ns = 1'000'000;
constexpr long kSecond_ns = 1'000'000'000;

// Waits for the next period of the loop's own clock.
void AwaitPeriod(timespec* next) {
  next->tv_nsec += kPeriod_ns;
  if (next->tv_nsec >= kSecond_ns) {
    next->tv_nsec -= kSecond_ns;
    ++next->tv_sec;
  }
  while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, next, nullptr) == EINTR) {
  }
}

int Play(const std::string& address, const std::string& gait, double seconds) {
  ControllerOptions options;
  options.gaits = {gait};
  options.is_preview = true;  // a loop with a drive names armed_by and drive, and asks in confirm
  const auto channel =
      gaitshelf::client::OpenChannel(address, gaitshelf::client::IdentityFolder(std::nullopt));
  if (!channel.ok()) {
    std::fprintf(stderr, "control_loop: %s\n", channel.status().ToString().c_str());
    return 1;
  }
  auto controller = Controller::Arm(*channel, options);
  if (!controller.ok()) {
    std::fprintf(stderr, "control_loop: %s\n", controller.status().ToString().c_str());
    return 1;
  }
  if (const absl::Status started = (*controller)->Start(); !started.ok()) {
    std::fprintf(stderr, "control_loop: %s\n", started.ToString().c_str());
    return 1;
  }
  // Commands wait for the server, so that they have a thread of their own.
  std::promise<void> rested;
  std::thread commanding([&] {
    if (rested.get_future().wait_for(std::chrono::duration<double>(seconds)) ==
        std::future_status::timeout) {
      (*controller)->Stop().IgnoreError();  // it has ended already when this fails
    }
  });
  timespec next{};
  clock_gettime(CLOCK_MONOTONIC, &next);
  Setpoint setpoint;
  for (PlayState state = PlayState::kWaiting; state != PlayState::kRested;) {
    AwaitPeriod(&next);
    state = (*controller)->Next(&setpoint);
    // Here: leg controller on setpoint.position_m and rate_m_per_s, with voltage_v fed forward.
  }
  rested.set_value();
  commanding.join();
  std::printf("%lld setpoints, %lld underruns\n",
              static_cast<long long>((*controller)->played_count()),
              static_cast<long long>((*controller)->underrun_count()));
  return (*controller)->underrun_count() == 0 ? 0 : 1;
}

}  // namespace

int main(int count, char** values) {
  if (count != 4) {
    std::fprintf(stderr, "usage: control_loop ADDRESS GAIT SECONDS\n");
    return 2;
  }
  return Play(values[1], values[2], std::atof(values[3]));
}
