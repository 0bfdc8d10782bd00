// What the services share: the library behind them and the ways to the rest of the server.
#ifndef GAITSHELF_SERVICE_API_HOUSE_H_
#define GAITSHELF_SERVICE_API_HOUSE_H_

#include <chrono>
#include <functional>
#include <memory>
#include <string>

#include "service/api/admission.h"
#include "service/api/stop_signal.h"
#include "service/api/write_watchdog.h"
#include "service/library/library.h"
#include "service/log/event.h"
#include "service/telemetry/call_meter.h"

namespace gaitshelf::service {

struct House {
  Library* library = nullptr;                     // outlives the services
  std::function<void()> wake_dispatcher = [] {};  // a job waits or is to be cancelled
  EventLog log;                                   // may be absent
  StopSignal stop;
  // Held by calls that a stop waits for.
  const std::shared_ptr<PlaceCount> places = std::make_shared<PlaceCount>();
  const std::shared_ptr<CallMeter> meter = std::make_shared<CallMeter>();
  // Cuts off clients that have stopped reading, or sending, in the middle of a call.
  WriteWatchdog watchdog;

  explicit House(std::chrono::milliseconds patience) : watchdog(patience) {}
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_HOUSE_H_
