// Cuts off calls whose client has stopped reading: a write that stands still would hold its thread
// for ever. One thread for all calls.
#ifndef GAITSHELF_SERVICE_API_WRITE_WATCHDOG_H_
#define GAITSHELF_SERVICE_API_WRITE_WATCHDOG_H_

#include <chrono>
#include <map>
#include <mutex>
#include <thread>

#include <grpcpp/server_context.h>

#include "service/api/stop_signal.h"

namespace gaitshelf::service {

class WriteWatchdog {
 public:
  explicit WriteWatchdog(std::chrono::milliseconds limit);
  ~WriteWatchdog();
  WriteWatchdog(const WriteWatchdog&) = delete;
  WriteWatchdog& operator=(const WriteWatchdog&) = delete;

  // Covers one write. While it lives longer than the limit, the call is cancelled.
  class Watch {
   public:
    Watch(WriteWatchdog* dog, grpc::ServerContext* context);
    ~Watch();
    Watch(const Watch&) = delete;
    Watch& operator=(const Watch&) = delete;

   private:
    WriteWatchdog* dog_;
    grpc::ServerContext* context_;
  };

 private:
  void Run();

  const std::chrono::milliseconds limit_;
  std::mutex mutex_;
  std::map<grpc::ServerContext*, std::chrono::steady_clock::time_point> deadlines_;
  StopSignal stop_;
  std::thread thread_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_WRITE_WATCHDOG_H_
