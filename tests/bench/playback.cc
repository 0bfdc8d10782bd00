// Plays a planned gait to many control loops at once: a real server, a session a loop, everything
// on one machine. Says how often a loop found its buffer empty and how near any came to that, how
// late the loops woke, and what the server took of a core.
//
// Usage: playback [--controllers N] [--rate_hz R] [--seconds S] [--json FILE]
#include <algorithm>
#include <cerrno>
#include <cstdint>
#include <cstdio>
#include <ctime>
#include <memory>
#include <string>
#include <thread>
#include <vector>

#include <grpcpp/create_channel.h>
#include <grpcpp/security/credentials.h>

#include "clients/controller/controller.h"
#include "tests/bench/json.h"
#include "tests/bench/options.h"
#include "tests/bench/program.h"
#include "tests/end_to_end/house.h"

namespace {

using gaitshelf::bench::Json;
using gaitshelf::bench::ProcessSeconds;
using gaitshelf::bench::WriteJson;
using gaitshelf::client::Controller;
using gaitshelf::client::ControllerOptions;
using gaitshelf::client::PlayState;
using gaitshelf::client::Setpoint;

constexpr std::int64_t kSecond_ns = 1'000'000'000;

struct Options {
  int controllers = 32;
  double rate_hz = 1000.0;
  double seconds = 20.0;
  std::string json;
};

// How late loops woke: counts of whole microseconds, the last one of all that were later.
class Lateness {
 public:
  void Add(std::int64_t late_ns) {
    const std::int64_t bucket =
        std::clamp<std::int64_t>(late_ns / 1000, 0, static_cast<std::int64_t>(counts_.size()) - 1);
    ++counts_[static_cast<std::size_t>(bucket)];
    worst_ns_ = std::max(worst_ns_, late_ns);
    ++count_;
  }
  void Add(const Lateness& other) {
    for (std::size_t i = 0; i < counts_.size(); ++i) {
      counts_[i] += other.counts_[i];
    }
    worst_ns_ = std::max(worst_ns_, other.worst_ns_);
    count_ += other.count_;
  }
  // The lateness that this share of the periods does not exceed, us.
  double Percentile(double share) const {
    std::int64_t seen = 0;
    for (std::size_t i = 0; i < counts_.size(); ++i) {
      seen += counts_[i];
      if (static_cast<double>(seen) >= share * static_cast<double>(count_)) {
        return static_cast<double>(i + 1);
      }
    }
    return worst_us();
  }
  double worst_us() const { return 1e-3 * static_cast<double>(worst_ns_); }

 private:
  std::vector<std::int64_t> counts_ = std::vector<std::int64_t>(100'000);
  std::int64_t worst_ns_ = 0;
  std::int64_t count_ = 0;
};

std::int64_t Now_ns() {
  timespec now{};
  clock_gettime(CLOCK_MONOTONIC, &now);
  return now.tv_sec * kSecond_ns + now.tv_nsec;
}

void SleepUntil(std::int64_t time_ns) {
  const timespec at{time_ns / kSecond_ns, time_ns % kSecond_ns};
  while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &at, nullptr) == EINTR) {
  }
}

void RunLoop(Controller* controller, double rate_hz, Lateness* lateness) {
  const auto period_ns = static_cast<std::int64_t>(static_cast<double>(kSecond_ns) / rate_hz);
  std::int64_t next_ns = Now_ns();
  Setpoint setpoint;
  for (PlayState state = PlayState::kWaiting; state != PlayState::kRested;) {
    next_ns += period_ns;
    SleepUntil(next_ns);
    lateness->Add(Now_ns() - next_ns);
    state = controller->Next(&setpoint);
  }
}

std::vector<std::unique_ptr<Controller>> ArmAll(const Options& options,
                                                const std::string& address,
                                                const std::string& gait) {
  std::vector<std::unique_ptr<Controller>> controllers;
  for (int i = 0; i < options.controllers; ++i) {
    ControllerOptions session;
    session.gaits = {gait};
    session.sample_rate_hz = options.rate_hz;
    session.is_preview = true;  // no drive stage hangs on these loops
    grpc::ChannelArguments arguments;
    arguments.SetInt(GRPC_ARG_USE_LOCAL_SUBCHANNEL_POOL, 1);  // a connection each
    auto controller = Controller::Arm(
        grpc::CreateCustomChannel(address, grpc::InsecureChannelCredentials(), arguments), session);
    if (!controller.ok()) {
      std::fprintf(stderr, "playback: %s\n", controller.status().ToString().c_str());
      return {};
    }
    controllers.push_back(*std::move(controller));
  }
  return controllers;
}

int Run(const Options& options) {
  gaitshelf::test::House house;
  house.StartServer();
  house.PutDescriptions();
  const std::string job = house.OrderAdvance(12.0, 0.009, 80);
  if (!house.AwaitEnd(job)) {
    std::fprintf(stderr, "playback: no gait was planned\n%s\n", house.ServerLog().c_str());
    return 1;
  }
  auto controllers = ArmAll(options, house.address(), house.GetJob(job).gait());
  if (controllers.empty()) {
    return 1;
  }
  std::vector<Lateness> lateness(controllers.size());
  std::vector<std::thread> loops;
  const double cpu_before_s = ProcessSeconds(house.server_process());
  const std::int64_t began_ns = Now_ns();
  for (std::size_t i = 0; i < controllers.size(); ++i) {
    if (!controllers[i]->Start().ok()) {
      std::fprintf(stderr, "playback: a session did not start\n");
    }
    loops.emplace_back(RunLoop, controllers[i].get(), options.rate_hz, &lateness[i]);
  }
  SleepUntil(began_ns + static_cast<std::int64_t>(options.seconds * 1e9));
  const double cores = (ProcessSeconds(house.server_process()) - cpu_before_s) /
                       (1e-9 * static_cast<double>(Now_ns() - began_ns));
  std::int64_t underruns = 0;
  std::int64_t played = 0;
  std::int64_t held_back = 0;
  std::int64_t least_left = controllers[0]->least_left_count();
  Lateness all;
  for (std::size_t i = 0; i < controllers.size(); ++i) {
    controllers[i]->Stop().IgnoreError();
  }
  for (std::size_t i = 0; i < controllers.size(); ++i) {
    loops[i].join();
    underruns += controllers[i]->underrun_count();
    played += controllers[i]->played_count();
    held_back += controllers[i]->held_back_count();
    least_left = std::min(least_left, controllers[i]->least_left_count());
    all.Add(lateness[i]);
  }
  const Json report =
      Json::Object()
          .Set("controllers", options.controllers)
          .Set("rate_hz", options.rate_hz)
          .Set("seconds", options.seconds)
          .Set("played", played)
          .Set("underruns", underruns)
          .Set("held_back", held_back)
          .Set("least_buffer_ms", 1e3 * static_cast<double>(least_left) / options.rate_hz)
          .Set("server_cpu_cores", cores)
          .Set("late_p50_us", all.Percentile(0.5))
          .Set("late_p99_us", all.Percentile(0.99))
          .Set("late_p999_us", all.Percentile(0.999))
          .Set("late_max_us", all.worst_us());
  std::printf("%s\n", report.Text().c_str());
  const int written = WriteJson(report, "playback", options.json);
  return house.StopServer() == 0 ? written : 1;
}

}  // namespace

int main(int count, char** values) {
  Options options;
  if (!gaitshelf::bench::OptionReader("playback")
           .Whole("--controllers", {.least = 1}, &options.controllers)
           .Number("--rate_hz", {.least = 1.0}, &options.rate_hz)
           .Number("--seconds", {.least = 0.1}, &options.seconds)
           .Text("--json", "FILE", &options.json)
           .Read(count, values)) {
    return 2;
  }
  return Run(options);
}
