// Counts finished calls by name and status, and how long they took.
#ifndef GAITSHELF_SERVICE_TELEMETRY_CALL_METER_H_
#define GAITSHELF_SERVICE_TELEMETRY_CALL_METER_H_

#include <array>
#include <chrono>
#include <cstdint>
#include <map>
#include <memory>
#include <mutex>
#include <set>
#include <string>
#include <utility>

#include <grpcpp/support/server_interceptor.h>

#include "absl/strings/string_view.h"

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

  // One call, from now on until this goes.
  class Call {
   public:
    // A name such as "LibraryService/GetGait".
    Call(std::shared_ptr<CallMeter> meter, std::string name);
    ~Call();
    Call(const Call&) = delete;
    Call& operator=(const Call&) = delete;

    // The status with which it ends. Without one its client is taken to be gone.
    void SetCode(int code) { code_ = code; }

   private:
    const std::shared_ptr<CallMeter> meter_;
    const std::string name_;
    const std::chrono::steady_clock::time_point begin_;
    int code_ = -1;
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

// Has gRPC report every call of every port, but for the methods, such as
// "/gaitshelf.v1.LibraryService/GetGait", whose handlers do that themselves: a reporter sends each
// answer through gRPC's queue of events once more, which takes a fast call a good part of its time.
std::unique_ptr<grpc::experimental::ServerInterceptorFactoryInterface> MakeCallReporter(
    std::shared_ptr<CallMeter> meter,
    std::set<std::string> self_reporting);

// What the meter calls a method.
std::string CallOf(absl::string_view method);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_TELEMETRY_CALL_METER_H_
