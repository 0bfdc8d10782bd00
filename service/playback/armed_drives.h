// Which drive stages are armed: at most one session a drive.
#ifndef GAITSHELF_SERVICE_PLAYBACK_ARMED_DRIVES_H_
#define GAITSHELF_SERVICE_PLAYBACK_ARMED_DRIVES_H_

#include <mutex>
#include <set>
#include <string>

namespace gaitshelf::service {

class ArmedDrives {
 public:
  // Returns false when the drive is armed already.
  bool Arm(const std::string& drive) {
    const std::lock_guard<std::mutex> lock(mutex_);
    return drives_.insert(drive).second;
  }
  void Disarm(const std::string& drive) {
    const std::lock_guard<std::mutex> lock(mutex_);
    drives_.erase(drive);
  }

 private:
  std::mutex mutex_;
  std::set<std::string> drives_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_PLAYBACK_ARMED_DRIVES_H_
