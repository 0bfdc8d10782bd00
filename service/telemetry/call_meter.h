// Counts finished calls by name and status, and how long they took.
#ifndef GAITSHELF_SERVICE_TELEMETRY_CALL_METER_H_
#define GAITSHELF_SERVICE_TELEMETRY_CALL_METER_H_

#include <array>
#include <cstdint>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <utility>

#include <grpcpp/support/server_interceptor.h>

namespace gaitshelf::service {

class CallMeter {
 public:
  // Upper bounds of the buckets of durations, s; one more bucket has no bound.
  static constexpr std::array<double, 8> kBounds_s =
      {0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0, 10.0};

  struct Durations {
    std::array<std::int64_t, kBounds_s.size() + 1> counts{};
    std::int64_t count = 0;
    double sum_s = 0.0;
  };
  struct Reading {
    // By call, such as "LibraryService/GetGait", and code, such as "NOT_FOUND".
    std::map<std::pair<std::string, std::string>, std::int64_t> ends;
    std::map<std::string, Durations> durations;   // by call
    std::map<std::string, std::int64_t> running;  // by call
  };

  CallMeter() = default;
  // The server's end comes after every call, but inside gRPC, where the thread sanitizer cannot see
  // it; the lock shows it that order.
  ~CallMeter() { const std::lock_guard<std::mutex> lock(mutex_); }
  CallMeter(const CallMeter&) = delete;
  CallMeter& operator=(const CallMeter&) = delete;

  void Begin(const std::string& call);
  // -1 for a call that ended without a status of ours: its client was gone.
  void End(const std::string& call, int code, double duration_s);
  Reading Read() const;

 private:
  mutable std::mutex mutex_;
  Reading reading_;
};

// Has gRPC report every call of every port. The meter outlives the server.
std::unique_ptr<grpc::experimental::ServerInterceptorFactoryInterface> MakeCallReporter(
    CallMeter* meter);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_TELEMETRY_CALL_METER_H_
