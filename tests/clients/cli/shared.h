// A value that a scripted server sets and a test reads.
#ifndef GAITSHELF_TESTS_CLIENTS_CLI_SHARED_H_
#define GAITSHELF_TESTS_CLIENTS_CLI_SHARED_H_

#include <mutex>

namespace gaitshelf::client {

// Answers run on gRPC's threads. The call itself orders them before the test's reads, but gRPC is
// not instrumented, so the thread sanitizer has to see a lock.
template <typename Value>
class Shared {
 public:
  Shared() = default;
  Shared(const Shared&) = delete;
  Shared& operator=(const Shared&) = delete;
  ~Shared() { const std::lock_guard<std::mutex> lock(mutex_); }

  void Set(const Value& value) {
    const std::lock_guard<std::mutex> lock(mutex_);
    value_ = value;
  }
  Value Get() const {
    const std::lock_guard<std::mutex> lock(mutex_);
    return value_;
  }

 private:
  mutable std::mutex mutex_;
  Value value_{};
};

}  // namespace gaitshelf::client

#endif  // GAITSHELF_TESTS_CLIENTS_CLI_SHARED_H_
