#include "service/access/call_count.h"

#include "service/access/caller.h"

namespace gaitshelf::service {
namespace {

// Lives as long as its call. gRPC has it asked and deleted by different threads, one after the
// other; the lock shows the thread sanitizer that order.
class Counter final : public grpc::experimental::Interceptor {
 public:
  Counter(CallCount* count, grpc::experimental::ServerRpcInfo* call) : count_(count), call_(call) {
    const std::lock_guard<std::mutex> lock(mutex_);
  }
  ~Counter() override {
    { const std::lock_guard<std::mutex> lock(mutex_); }
    if (!member_.empty()) {
      count_->End(member_);
    }
  }

  void Intercept(grpc::experimental::InterceptorBatchMethods* methods) override {
    using grpc::experimental::InterceptionHookPoints;
    if (methods->QueryInterceptionHookPoint(InterceptionHookPoints::POST_RECV_INITIAL_METADATA)) {
      const std::lock_guard<std::mutex> lock(mutex_);
      member_ = MemberOf(*call_->server_context());
      if (!member_.empty()) {
        count_->Begin(member_);
      }
    }
    methods->Proceed();
  }

 private:
  CallCount* count_;
  grpc::experimental::ServerRpcInfo* call_;
  std::mutex mutex_;
  std::string member_;
};

class CounterFactory final : public grpc::experimental::ServerInterceptorFactoryInterface {
 public:
  explicit CounterFactory(CallCount* count) : count_(count) {}
  grpc::experimental::Interceptor* CreateServerInterceptor(
      grpc::experimental::ServerRpcInfo* call) override {
    return new Counter(count_, call);  // gRPC deletes it
  }

 private:
  CallCount* count_;
};

}  // namespace

void CallCount::Begin(const std::string& member) {
  const std::lock_guard<std::mutex> lock(mutex_);
  ++counts_[member];
}

void CallCount::End(const std::string& member) {
  const std::lock_guard<std::mutex> lock(mutex_);
  if (const auto found = counts_.find(member); found != counts_.end() && --found->second == 0) {
    counts_.erase(found);
  }
}

int CallCount::Of(const std::string& member) const {
  const std::lock_guard<std::mutex> lock(mutex_);
  const auto found = counts_.find(member);
  return found == counts_.end() ? 0 : found->second;
}

std::unique_ptr<grpc::experimental::ServerInterceptorFactoryInterface> MakeCallCounter(
    CallCount* count) {
  return std::make_unique<CounterFactory>(count);
}

}  // namespace gaitshelf::service
