#include "service/telemetry/call_meter.h"

#include <algorithm>
#include <chrono>
#include <cstddef>
#include <utility>

#include "absl/status/status.h"
#include "absl/strings/strip.h"

namespace gaitshelf::service {
namespace {

using Clock = std::chrono::steady_clock;

// Lives as long as its call. gRPC has it made, asked and deleted by different threads, one after
// the other; the lock shows the thread sanitizer that order.
class Reporter final : public grpc::experimental::Interceptor {
 public:
  Reporter(const std::shared_ptr<CallMeter>& meter, const char* method)
      : call_(meter, CallOf(method)) {
    const std::lock_guard<std::mutex> lock(mutex_);
  }
  ~Reporter() override { const std::lock_guard<std::mutex> lock(mutex_); }

  void Intercept(grpc::experimental::InterceptorBatchMethods* methods) override {
    if (methods->QueryInterceptionHookPoint(
            grpc::experimental::InterceptionHookPoints::PRE_SEND_STATUS)) {
      const std::lock_guard<std::mutex> lock(mutex_);
      call_.SetCode(methods->GetSendStatus().error_code());
    }
    methods->Proceed();
  }

 private:
  CallMeter::Call call_;
  std::mutex mutex_;
};

class ReporterFactory final : public grpc::experimental::ServerInterceptorFactoryInterface {
 public:
  ReporterFactory(std::shared_ptr<CallMeter> meter, std::set<std::string> self_reporting)
      : meter_(std::move(meter)), self_reporting_(std::move(self_reporting)) {}
  grpc::experimental::Interceptor* CreateServerInterceptor(
      grpc::experimental::ServerRpcInfo* call) override {
    // gRPC deletes it.
    return self_reporting_.count(call->method()) > 0 ? nullptr
                                                     : new Reporter(meter_, call->method());
  }

 private:
  const std::shared_ptr<CallMeter> meter_;
  const std::set<std::string> self_reporting_;
};

}  // namespace

std::string CallOf(absl::string_view method) {
  absl::ConsumePrefix(&method, "/");
  absl::ConsumePrefix(&method, "gaitshelf.v1.");
  return std::string(method);
}

CallMeter::Call::Call(std::shared_ptr<CallMeter> meter, std::string name)
    : meter_(std::move(meter)), name_(std::move(name)), begin_(Clock::now()) {
  meter_->Begin(name_);
}

CallMeter::Call::~Call() {
  const std::chrono::duration<double> duration = Clock::now() - begin_;
  meter_->End(name_, code_, duration.count());
}

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
    std::shared_ptr<CallMeter> meter,
    std::set<std::string> self_reporting) {
  return std::make_unique<ReporterFactory>(std::move(meter), std::move(self_reporting));
}

}  // namespace gaitshelf::service
