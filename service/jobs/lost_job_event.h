// The event of a job that has lost its worker.
#ifndef GAITSHELF_SERVICE_JOBS_LOST_JOB_EVENT_H_
#define GAITSHELF_SERVICE_JOBS_LOST_JOB_EVENT_H_

#include "gaitshelf/v1/job.pb.h"

#include "service/library/library.h"
#include "service/log/event.h"

namespace gaitshelf::service {

// `state` is the job's after it was taken back: queued again, or failed.
inline LogEvent LostJobEvent(const JobFence& fence, const JobLoss& loss, v1::JobState state) {
  return {.level = loss.is_crash ? LogLevel::kWarning : LogLevel::kInfo,
          .what = "job has lost its worker",
          .fields = {{"job", fence.job},
                     {"attempt", fence.attempt},
                     {"reason", loss.reason},
                     {"state", v1::JobState_Name(state)}}};
}

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_JOBS_LOST_JOB_EVENT_H_
