#include "service/api/admission.h"

#include <utility>

#include "absl/strings/str_cat.h"
#include "service/access/caller.h"
#include "service/api/status.h"

namespace gaitshelf::service {

void PlaceCount::Add() {
  const std::lock_guard<std::mutex> lock(mutex_);
  ++count_;
}

void PlaceCount::Remove() {
  const std::lock_guard<std::mutex> lock(mutex_);
  if (--count_ == 0) {
    none_.notify_all();
  }
}

int PlaceCount::count() const {
  const std::lock_guard<std::mutex> lock(mutex_);
  return count_;
}

bool PlaceCount::AwaitNone(std::chrono::steady_clock::time_point time) const {
  std::unique_lock<std::mutex> lock(mutex_);
  return none_.wait_until(lock, time, [this] { return count_ == 0; });
}

Admission::Place::Place(Admission* admission, const grpc::ServerContextBase& context)
    : Place(admission, MemberOf(context)) {}

Admission::Place::Place(Admission* admission, std::string member)
    : admission_(admission), member_(std::move(member)), refusal_(admission->Take(member_)) {}

Admission::Place::~Place() {
  if (is_taken()) {
    admission_->GiveBack(member_);
  }
}

absl::Status Admission::Take(const std::string& member) {
  const std::lock_guard<std::mutex> lock(mutex_);
  if (count_ >= limits_.total) {
    return WithReason(
        absl::ResourceExhaustedError(absl::StrCat(
            limits_.total, " ", what_, " are under way already; end one or try again later")),
        reason_);
  }
  if (!member.empty()) {
    int& own = counts_[member];
    if (own >= limits_.each) {
      return WithReason(absl::ResourceExhaustedError(absl::StrCat(
                            own, " ", what_, " of ", member, " are under way already; end one")),
                        reason_);
    }
    ++own;
  }
  ++count_;
  all_->Add();
  return absl::OkStatus();
}

void Admission::GiveBack(const std::string& member) {
  {
    const std::lock_guard<std::mutex> lock(mutex_);
    --count_;
    if (const auto own = counts_.find(member); own != counts_.end() && --own->second == 0) {
      counts_.erase(own);
    }
  }
  all_->Remove();
}

}  // namespace gaitshelf::service
