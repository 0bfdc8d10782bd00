// Looks after all sessions from one thread: gRPC's own alarm is too coarse for it.
#ifndef GAITSHELF_SERVICE_API_TICKER_H_
#define GAITSHELF_SERVICE_API_TICKER_H_

#include <chrono>
#include <mutex>
#include <set>
#include <thread>

#include "service/api/stop_signal.h"

namespace gaitshelf::service {

class Ticker {
 public:
  class Client {
   public:
    virtual ~Client() = default;
    // Must not block.
    virtual void Tick(std::chrono::steady_clock::time_point now) = 0;
  };

  explicit Ticker(std::chrono::milliseconds period);
  ~Ticker();
  Ticker(const Ticker&) = delete;
  Ticker& operator=(const Ticker&) = delete;

  void Add(Client* client);
  // After this the client is not called any more. Not to be called from Tick.
  void Remove(Client* client);

 private:
  void Run();

  const std::chrono::milliseconds period_;
  std::mutex mutex_;
  std::set<Client*> clients_;
  StopSignal stop_;
  std::thread thread_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_TICKER_H_
