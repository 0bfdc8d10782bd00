// Keeps a library's gaits in memory, as many as its memory takes, before anybody asks for them:
// they are sent at once then, however large the library is, and are there while it is out of reach.
#ifndef GAITSHELF_SERVICE_LIBRARY_GAIT_LOADER_H_
#define GAITSHELF_SERVICE_LIBRARY_GAIT_LOADER_H_

#include <atomic>
#include <cstdint>

#include "service/library/library.h"
#include "service/log/event.h"

namespace gaitshelf::service {

class GaitLoader {
 public:
  // The library outlives this; the log may be absent.
  GaitLoader(Library* library, EventLog log);

  // Loads what is not there yet, and tells the log when that changed how much is there. A storage
  // that is out of reach is left for the next time. One caller at a time.
  void Load();
  // Ends a Load under way soon, and all later ones at once. From any thread.
  void Stop() { is_stopped_ = true; }

 private:
  Library* const library_;
  const EventLog log_;
  std::int64_t told_count_ = 0;
  std::atomic<bool> is_stopped_{false};
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_GAIT_LOADER_H_
