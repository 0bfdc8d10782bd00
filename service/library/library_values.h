// What goes into a library and comes out of it, but for messages.
#ifndef GAITSHELF_SERVICE_LIBRARY_LIBRARY_VALUES_H_
#define GAITSHELF_SERVICE_LIBRARY_LIBRARY_VALUES_H_

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "gaitshelf/v1/calibration.pb.h"
#include "gaitshelf/v1/care_service.pb.h"
#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/job.pb.h"
#include "gaitshelf/v1/library_service.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"
#include "gaitshelf/v1/task.pb.h"
#include "gaitshelf/v1/trial.pb.h"

#include "absl/status/statusor.h"

namespace gaitshelf::service {

struct PutRobotResult {
  v1::StoredRobot stored;
  bool is_new_version = false;
};

struct PutSurfaceResult {
  v1::StoredSurface stored;
  bool is_new_version = false;
};

struct GaitFilter {
  std::string robot{};    // empty: all
  std::string surface{};  // empty: all
  bool only_good = false;
};

// A stretch of a list, newest first.
struct PageRequest {
  int page_size = 0;         // 1 to 1000; 0 means 100
  std::string page_token{};  // empty: the first page
};

struct GaitPage {
  std::vector<v1::GaitSummary> gaits;
  std::string next_page_token;  // empty at the end
};

// What is kept in memory of the gaits' bytes.
struct GaitsInMemory {
  std::int64_t gait_count = 0;
  std::int64_t byte_count = 0;
  bool is_full = false;  // so that some gaits are not there
};

struct ChangePage {
  std::vector<v1::Change> changes;
  std::string next_page_token;  // empty at the end
};

struct JobPage {
  std::vector<v1::Job> jobs;
  std::string next_page_token;  // empty at the end
};

// What a job is made from. The digests fix the versions that the worker will solve for.
struct JobOrder {
  std::string key;
  v1::GaitOrder order;
  std::string robot_digest;
  std::string surface_digest;
  std::string requester;
  std::vector<v1::SurfaceVersion> also_on{};  // the order's further surfaces, by name
};

// Payload of the kResourceExhausted with which OrderJob refuses: QUEUE_FULL or TOO_MANY_JOBS. It is
// absent when something else is exhausted, such as the disk.
inline constexpr char kLimitPayload[] = "gaitshelf.queue_limit";

struct OrderedJob {
  v1::Job job;
  bool joined = false;  // true when the job was there before
};

// Names one start of a worker. Writes of an attempt that is no longer the job's running one are
// refused with kAborted, so that a worker which was given up but lives on cannot disturb its
// successor.
struct JobFence {
  std::string job;
  int attempt = 0;
};

// All that a worker needs of a job.
struct JobAttempt {
  v1::Job job;
  std::string key;
  std::string robot_digest;
  std::string surface_digest;
  std::optional<v1::PlanCheckpoint> checkpoint;
  std::vector<v1::SurfaceVersion> also_on{};  // the order's further surfaces, by name; GetAttempt
};

// A job that some server has started and not yet ended.
struct RunningJob {
  JobFence fence;
  std::string owner;  // as given to ClaimNextJob
  // Another one with each sign of life. About the time of the last one, microseconds since 1970,
  // by a clock that may have jumped: compare it with itself only.
  std::int64_t heartbeat_us = 0;
  bool is_cancel_requested = false;
};

struct JobEnd {
  v1::JobState state = v1::JOB_STATE_UNSPECIFIED;  // done, failed or cancelled
  std::string failure_reason{};                    // required when failed
  std::string gait{};                              // name; may be empty
};

struct JobLoss {
  std::string reason{};  // what happened to the worker
  bool is_crash = true;  // counts against the retry limit; false when the server itself stopped
};

struct InsertedTrial {
  v1::Trial trial;
  bool is_new = false;  // false when the library had it
};

struct InsertedCalibration {
  v1::Calibration calibration;
  bool is_new = false;  // false when the library had it
};

struct CalibrationFilter {
  std::string robot{};    // empty: all
  std::string surface{};  // empty: all
};

struct CalibrationPage {
  std::vector<v1::Calibration> calibrations;
  std::string next_page_token;  // empty at the end
};

struct TrialFilter {
  std::string robot{};                              // empty: all
  std::string gait{};                               // empty: all
  v1::TrialKind kind = v1::TRIAL_KIND_UNSPECIFIED;  // unspecified: all
};

struct TrialPage {
  std::vector<v1::Trial> trials;
  std::string next_page_token;  // empty at the end
};

// One gait taken out of service.
struct Retirement {
  std::string gait;
  std::string reason;
  std::string requester;
};

// What a bundle brings: exactly one of the three is set. Digests and the key are the caller's, who
// has checked the contents.
struct BundleItem {
  std::optional<v1::Robot> robot{};
  std::optional<v1::Surface> surface{};
  std::optional<v1::Gait> gait{};
  std::string digest{};  // of robot or surface
  std::string key{};     // of the gait's order
};

// Gives the next item, or nothing at the end; an error ends the import.
using BundleSource = std::function<absl::StatusOr<std::optional<BundleItem>>()>;

struct GarbageOptions {
  std::int64_t retired_before_us = 0;  // gaits go that were retired before, microseconds since 1970
  bool is_dry_run = false;
  std::string requester{};
};

// Numbers for metrics and health; cheap to find.
struct LibraryCounts {
  std::int64_t gaits = 0;
  std::int64_t trials = 0;
  std::int64_t queued_jobs = 0;
  std::int64_t running_jobs = 0;
  std::int64_t queue_limit = 0;
};

// Bytes that the library keeps and others read at the same time.
using SharedBytes = std::shared_ptr<const std::string>;

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_LIBRARY_VALUES_H_
