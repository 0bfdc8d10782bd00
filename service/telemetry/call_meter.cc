#include "service/telemetry/call_meter.h"

#include <algorithm>
#include <chrono>
#include <cstddef>

#include "absl/status/status.h"
#include "absl/strings/string_view.h"
#include "absl/strings/strip.h"

namespace gaitshelf::service {
namespace {

using Clock = std::chrono::steady_clock;

std::string CallOf(absl::string_view method) {
  absl::ConsumePrefix(&method, "/");
  absl::ConsumePrefix(&method, "gaitshelf.v1.");
  return std::string(method);
}

// Lives as long as its call. gRPC has it made, asked and deleted by different threads, one after
// the other; the lock shows the thread sanitizer that order.
class Reporter final : public grpc::experimental::Interceptor {
 public:
  Reporter(CallMeter* meter, const char* method)
      : meter_(meter), call_(CallOf(method)), begin_(Clock::now()) {
    meter_->Begin(call_);
    const std::lock_guard<std::mutex> lock(mutex_);
  }
  ~Reporter() override {
    { const std::lock_guard<std::mutex> lock(mutex_); }
    const std::chrono::duration<double> duration = Clock::now() - begin_;
    meter_->End(call_, code_, duration.count());
  }

  void Intercept(grpc::experimental::InterceptorBatchMethods* methods) override {
    if (methods->QueryInterceptionHookPoint(
            grpc::experimental::InterceptionHookPoints::PRE_SEND_STATUS)) {
      const std::lock_guard<std::mutex> lock(mutex_);
      code_ = methods->GetSendStatus().error_code();
    }
    methods->Proceed();
  }

 private:
  CallMeter* meter_;
  const std::string call_;
  const Clock::time_point begin_;
  std::mutex mutex_;
  int code_ = -1;
};

class ReporterFactory final : public grpc::experimental::ServerInterceptorFactoryInterface {
 public:
  explicit ReporterFactory(CallMeter* meter) : meter_(meter) {}
  grpc::experimental::Interceptor* CreateServerInterceptor(
      grpc::experimental::ServerRpcInfo* call) override {
    return new Reporter(meter_, call->method());  // gRPC deletes it
  }

 private:
  CallMeter* meter_;
};

}  // namespace

void CallMeter::Begin(const std::string& call) {
  const std::lock_guard<std::mutex> lock(mutex_);
  ++reading_.running[call];
}

void CallMeter::End(const std::string& call, int code, double duration_s) {
  const std::string name =
      code < 0 ? "GONE" : absl::StatusCodeToString(static_cast<absl::StatusCode>(code));
  const auto bound = std::lower_bound(kBounds_s.begin(), kBounds_s.end(), duration_s);
  const std::lock_guard<std::mutex> lock(mutex_);
  --reading_.running[call];
  ++reading_.ends[{call, name}];
  Durations& durations = reading_.durations[call];
  ++durations.counts[static_cast<std::size_t>(bound - kBounds_s.begin())];
  ++durations.count;
  durations.sum_s += duration_s;
}

CallMeter::Reading CallMeter::Read() const {
  const std::lock_guard<std::mutex> lock(mutex_);
  return reading_;
}

std::unique_ptr<grpc::experimental::ServerInterceptorFactoryInterface> MakeCallReporter(
    CallMeter* meter) {
  return std::make_unique<ReporterFactory>(meter);
}

}  // namespace gaitshelf::service
