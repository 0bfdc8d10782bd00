// Counts calls that take long or hold much, so that overload is refused at once instead of piling
// up threads and memory.
#ifndef GAITSHELF_SERVICE_API_ADMISSION_H_
#define GAITSHELF_SERVICE_API_ADMISSION_H_

#include <chrono>
#include <condition_variable>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <utility>

#include <grpcpp/server_context.h>

#include "absl/status/status.h"

namespace gaitshelf::service {

// How many calls hold a place of any kind, for a server that stops.
class PlaceCount {
 public:
  void Add();
  void Remove();
  int count() const;
  // Waits until there is none or until the time; returns whether there is none.
  bool AwaitNone(std::chrono::steady_clock::time_point time) const;

 private:
  mutable std::mutex mutex_;
  mutable std::condition_variable none_;
  int count_ = 0;
};

// Places for one kind of call.
class Admission {
 public:
  struct Limits {
    int total = 0;
    int each = 0;  // for one member; callers without a certificate count in the total only
  };

  // The kind is told to those who are refused: what, such as "streams", and a reason for programs,
  // such as "TOO_MANY_STREAMS".
  Admission(Limits limits, std::string what, std::string reason, std::shared_ptr<PlaceCount> all)
      : limits_(limits), what_(std::move(what)), reason_(std::move(reason)), all_(std::move(all)) {}
  Admission(const Admission&) = delete;
  Admission& operator=(const Admission&) = delete;

  // One place, given back when it goes.
  class Place {
   public:
    Place(Admission* admission, const grpc::ServerContextBase& context);
    Place(Admission* admission, std::string member);
    ~Place();
    Place(const Place&) = delete;
    Place& operator=(const Place&) = delete;

    bool is_taken() const { return refusal_.ok(); }
    // kResourceExhausted when the place was not taken.
    const absl::Status& refusal() const { return refusal_; }

   private:
    Admission* admission_;
    const std::string member_;
    const absl::Status refusal_;
  };

 private:
  absl::Status Take(const std::string& member);
  void GiveBack(const std::string& member);

  const Limits limits_;
  const std::string what_;
  const std::string reason_;
  const std::shared_ptr<PlaceCount> all_;
  std::mutex mutex_;
  int count_ = 0;
  std::map<std::string, int> counts_;  // by member; none is 0
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_ADMISSION_H_
