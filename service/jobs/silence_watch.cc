#include "service/jobs/silence_watch.h"

#include <algorithm>

namespace gaitshelf::service {

bool SilenceWatch::IsSilent(const RunningJob& job) {
  const Clock::time_point now = Clock::now();
  const auto [entry, is_new] = signs_.try_emplace({job.fence.job, job.fence.attempt});
  Sign& sign = entry->second;
  if (is_new || sign.heartbeat_us != job.heartbeat_us) {
    sign = {.heartbeat_us = job.heartbeat_us, .seen_time = now};
  }
  return now - sign.seen_time > std::chrono::duration<double>(lost_after_s_);
}

void SilenceWatch::KeepOnly(const std::vector<RunningJob>& running) {
  std::erase_if(signs_, [&](const auto& entry) {
    return std::none_of(running.begin(), running.end(), [&](const RunningJob& job) {
      return job.fence.job == entry.first.first && job.fence.attempt == entry.first.second;
    });
  });
}

}  // namespace gaitshelf::service
