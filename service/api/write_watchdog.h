// Cuts off calls whose client has stopped reading, or sending: a write or a read that stands still
// would hold its thread and its place for ever. One thread for all calls.
#ifndef GAITSHELF_SERVICE_API_WRITE_WATCHDOG_H_
#define GAITSHELF_SERVICE_API_WRITE_WATCHDOG_H_

#include <chrono>
#include <map>
#include <mutex>
#include <thread>

#include <grpcpp/server_context.h>
#include <grpcpp/support/sync_stream.h>

#include "service/api/stop_signal.h"

namespace gaitshelf::service {

class WriteWatchdog {
 public:
  explicit WriteWatchdog(std::chrono::milliseconds limit);
  ~WriteWatchdog();
  WriteWatchdog(const WriteWatchdog&) = delete;
  WriteWatchdog& operator=(const WriteWatchdog&) = delete;

  std::chrono::milliseconds limit() const { return limit_; }

  // Covers one write or read. When it lives longer than the limit, the call is cancelled.
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

// Reads a client's messages under the watchdog.
template <typename Message>
class MessageReader {
 public:
  MessageReader(WriteWatchdog* dog,
                grpc::ServerContext* context,
                grpc::ServerReader<Message>* reader)
      : dog_(dog), context_(context), reader_(reader) {}

  bool Read(Message* message) {
    const WriteWatchdog::Watch watch(dog_, context_);
    return reader_->Read(message);
  }

 private:
  WriteWatchdog* dog_;
  grpc::ServerContext* context_;
  grpc::ServerReader<Message>* reader_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_WRITE_WATCHDOG_H_
