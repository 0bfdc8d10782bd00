#include "service/library/gait_cache.h"

#include <iterator>

namespace gaitshelf::service {

void GaitCache::Put(const std::string& name, const KeptGait& gait) {
  const std::lock_guard<std::mutex> lock(mutex_);
  if (const auto place = places_.find(name); place != places_.end()) {
    Drop(place->second);
  }
  const std::size_t size = gait.body->size();
  if (size > byte_limit_) {
    return;
  }
  while (byte_count_ + size > byte_limit_) {
    Drop(std::prev(entries_.end()));
  }
  entries_.emplace_front(name, gait);
  places_[name] = entries_.begin();
  byte_count_ += size;
}

bool GaitCache::PutIfRoom(const std::string& name, const KeptGait& gait) {
  const std::lock_guard<std::mutex> lock(mutex_);
  if (places_.contains(name)) {
    return true;
  }
  const std::size_t size = gait.body->size();
  if (byte_count_ + size > byte_limit_) {
    return false;
  }
  entries_.emplace_back(name, gait);
  places_[name] = std::prev(entries_.end());
  byte_count_ += size;
  return true;
}

bool GaitCache::Has(const std::string& name) {
  const std::lock_guard<std::mutex> lock(mutex_);
  return places_.contains(name);
}

GaitCache::Filling GaitCache::filling() {
  const std::lock_guard<std::mutex> lock(mutex_);
  return {.gait_count = entries_.size(), .byte_count = byte_count_};
}

std::optional<KeptGait> GaitCache::Get(const std::string& name) {
  const std::lock_guard<std::mutex> lock(mutex_);
  const auto place = places_.find(name);
  if (place == places_.end()) {
    return std::nullopt;
  }
  entries_.splice(entries_.begin(), entries_, place->second);
  return place->second->second;
}

void GaitCache::Drop(std::list<Entry>::iterator entry) {
  byte_count_ -= entry->second.body->size();
  places_.erase(entry->first);
  entries_.erase(entry);
}

}  // namespace gaitshelf::service
