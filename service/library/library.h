// The library: robots, surfaces, gaits, jobs and trials, the only durable state of the service.
// This is the interface that every backend keeps; sqlite_library.h opens the embedded one. It knows
// nothing of requests, and it takes digests and keys from its caller (solver/robot/digest.h makes
// them).
//
// Every member may be called from any thread. Every member may also fail with
//   kUnavailable         the storage stayed locked by another process for too long; retry
//   kResourceExhausted   the storage is full
//   kDataLoss            the storage is damaged
//   kInternal            a fault of ours or of the storage
#ifndef GAITSHELF_SERVICE_LIBRARY_LIBRARY_H_
#define GAITSHELF_SERVICE_LIBRARY_LIBRARY_H_

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "gaitshelf/v1/calibration.pb.h"
#include "gaitshelf/v1/care_service.pb.h"
#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/job.pb.h"
#include "gaitshelf/v1/leg_table.pb.h"
#include "gaitshelf/v1/library_service.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"
#include "gaitshelf/v1/trial.pb.h"
#include "gaitshelf/v1/trial_analysis.pb.h"

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/library/library_values.h"

namespace gaitshelf::service {

class Library {
 public:
  Library() = default;
  Library(const Library&) = delete;
  Library& operator=(const Library&) = delete;
  virtual ~Library() = default;

  // ---- Descriptions. The caller has checked them. ----

  // Stores a robot or a surface. A digest unlike the current version's makes the next version; with
  // the same digest only title and the like are brought up to date.
  virtual absl::StatusOr<PutRobotResult> PutRobot(const v1::Robot& robot,
                                                  const std::string& digest,
                                                  const std::string& requester) = 0;
  virtual absl::StatusOr<PutSurfaceResult> PutSurface(const v1::Surface& surface,
                                                      const std::string& digest,
                                                      const std::string& requester) = 0;
  // Returns the current version, or with a digest that is not empty the newest one that has it.
  //
  // Errors:
  //   kNotFound   no such name or digest; the message says which
  virtual absl::StatusOr<v1::StoredRobot> GetRobot(const std::string& name,
                                                   const std::string& digest) = 0;
  virtual absl::StatusOr<v1::StoredSurface> GetSurface(const std::string& name,
                                                       const std::string& digest) = 0;
  // Return the current versions, by name.
  virtual absl::StatusOr<std::vector<v1::StoredRobot>> ListRobots() = 0;
  virtual absl::StatusOr<std::vector<v1::StoredSurface>> ListSurfaces() = 0;

  // Keeps what the legs of the robot with this digest were compiled to, in place of what an earlier
  // program made of them.
  //
  // Errors:
  //   kInvalidArgument   the digest is empty
  virtual absl::Status PutLegTables(const std::string& robot_digest,
                                    const v1::LegTables& tables) = 0;
  // Errors:
  //   kNotFound   nothing was kept for this digest
  //   kDataLoss   the stored bytes do not match their checksum; compile and put them again
  virtual absl::StatusOr<v1::LegTables> GetLegTables(const std::string& robot_digest) = 0;

  // ---- Gaits ----

  // Stores a gait under the key of its order. A gait of the same name is there already when the
  // same trajectory was solved before: then nothing changes, except that a newer audit with another
  // verdict takes the place of the older one.
  //
  // Errors:
  //   kInvalidArgument   the gait has no name or the key is empty
  virtual absl::Status InsertGait(const v1::Gait& gait, const std::string& key) = 0;
  // Returns the serialised v1::Gait as it was stored; never null. What was read lately is kept in
  // memory, and handed out only while it still is what is stored. What another process does to a
  // gait in a database may need a moment to be heard of, some milliseconds as a rule.
  //
  // Errors:
  //   kNotFound   no such gait
  //   kDataLoss   the stored bytes do not match their checksum
  virtual absl::StatusOr<SharedBytes> GetGaitBytes(const std::string& name) = 0;
  // Reads gaits into memory, those stored last first, until all that are not retired are there or
  // the memory for them is full; what is damaged is left out. `is_stopped` is asked before each.
  //
  // Errors:
  //   kUnavailable   the storage is out of reach; what was read stays
  virtual absl::StatusOr<GaitsInMemory> LoadGaits(const std::function<bool()>& is_stopped) = 0;
  virtual absl::StatusOr<v1::GaitSummary> GetGaitSummary(const std::string& name) = 0;
  // Returns the gait to serve for a key: of those with a good audit and not retired the one with
  // the least cost.
  //
  // Errors:
  //   kNotFound   none yet
  virtual absl::StatusOr<v1::GaitSummary> FindBestGait(const std::string& key) = 0;
  // Lists gaits that are not retired.
  //
  // Errors:
  //   kInvalidArgument   page_size or page_token is not valid
  virtual absl::StatusOr<GaitPage> ListGaits(const GaitFilter& filter, const PageRequest& page) = 0;

  // ---- Jobs, as their users see them ----

  // Joins the open job for the key, or queues a new one.
  //
  // Errors:
  //   kResourceExhausted   as many jobs are open as the queue takes, of all or of the requester;
  //                        see kLimitPayload
  virtual absl::StatusOr<OrderedJob> OrderJob(const JobOrder& order) = 0;
  // Errors:
  //   kNotFound   no such job
  virtual absl::StatusOr<v1::Job> GetJob(const std::string& name) = 0;
  // Errors:
  //   kInvalidArgument   page_size or page_token is not valid
  virtual absl::StatusOr<JobPage> ListJobs(bool only_open, const PageRequest& page) = 0;
  // Ends a queued job at once; a running one stays running until its worker has seen the wish.
  //
  // Errors:
  //   kNotFound             no such job
  //   kFailedPrecondition   the job has ended
  virtual absl::StatusOr<v1::Job> RequestCancel(const std::string& name,
                                                const std::string& requester) = 0;

  // Returns a number that grows whenever the job changes, and sometimes when it does not, without
  // asking the storage; absent when only asking tells.
  virtual std::optional<std::uint64_t> JobNews(const std::string& name) = 0;

  // ---- Jobs, as dispatcher and worker see them ----

  // Takes the queued job that is due: requesters take turns, each with his oldest. It becomes
  // running with the next attempt number. Absent when nothing is queued. The owner says who must
  // look after the attempt.
  virtual absl::StatusOr<std::optional<JobAttempt>> ClaimNextJob(const std::string& owner) = 0;
  // Takes a certain job from the queue.
  //
  // Errors:
  //   kNotFound   no such job
  //   kAborted    the job does not wait: another process has it, or it has ended
  virtual absl::StatusOr<JobAttempt> ClaimJob(const std::string& name,
                                              const std::string& owner) = 0;
  // Returns the names of at most `limit` queued jobs, in the order in which they are due.
  virtual absl::StatusOr<std::vector<std::string>> ListQueuedJobs(int limit) = 0;
  virtual absl::StatusOr<std::vector<RunningJob>> ListRunningJobs() = 0;

  // The members below fail with kNotFound when there is no such job and with kAborted when the
  // fence is not that of the running attempt.

  virtual absl::StatusOr<JobAttempt> GetAttempt(const JobFence& fence) = 0;
  // Tells whether somebody wants the job cancelled. Reads only.
  virtual absl::StatusOr<bool> IsCancelRequested(const JobFence& fence) = 0;
  // Gives a sign of life.
  virtual absl::Status WriteHeartbeat(const JobFence& fence) = 0;
  // These are signs of life, too.
  virtual absl::Status WriteProgress(const JobFence& fence, const v1::PlanProgress& progress) = 0;
  virtual absl::Status WriteCheckpoint(const JobFence& fence,
                                       const v1::PlanCheckpoint& checkpoint) = 0;
  // Ends the job and drops its checkpoint.
  //
  // Errors:
  //   kInvalidArgument   the state is not an end, or a failure has no reason
  virtual absl::StatusOr<v1::Job> FinishJob(const JobFence& fence, const JobEnd& end) = 0;
  // Takes the job from a worker that is gone. It is queued again and will go on from its last
  // checkpoint; it ends as cancelled when that was wanted, and as failed after too many crashes.
  virtual absl::StatusOr<v1::Job> RequeueLostJob(const JobFence& fence, const JobLoss& loss) = 0;

  // ---- Trials ----

  // Stores a trial, which has been checked and carries its name (trial_name.h), with its samples:
  // serialised v1::TrialBlocks that are kept as they are. A trial of the same name is there already
  // when the same samples were stored before: then nothing changes.
  //
  // Errors:
  //   kInvalidArgument   the trial has no name
  virtual absl::StatusOr<InsertedTrial> InsertTrial(const v1::Trial& trial,
                                                    const std::vector<std::string>& blocks) = 0;
  // Errors:
  //   kNotFound   no such trial
  virtual absl::StatusOr<v1::Trial> GetTrial(const std::string& name) = 0;
  // Returns how many blocks a trial has.
  //
  // Errors:
  //   kNotFound   no such trial
  virtual absl::StatusOr<int> CountTrialBlocks(const std::string& name) = 0;
  // Returns one block as it was stored, number 0 the first.
  //
  // Errors:
  //   kNotFound   no such trial, or it has no such block
  //   kDataLoss   the stored bytes do not match their checksum
  virtual absl::StatusOr<std::string> GetTrialBlock(const std::string& name, int number) = 0;
  // Errors:
  //   kInvalidArgument   page_size or page_token is not valid
  virtual absl::StatusOr<TrialPage> ListTrials(const TrialFilter& filter,
                                               const PageRequest& page) = 0;
  // Keeps an analysis beside its trial; it takes the place of one of the same version and options.
  //
  // Errors:
  //   kNotFound   no such trial
  virtual absl::Status PutTrialAnalysis(const v1::TrialAnalysis& analysis) = 0;
  // Returns the analysis of a version with some options; absent when it was not made.
  virtual absl::StatusOr<std::optional<v1::TrialAnalysis>> FindTrialAnalysis(
      const std::string& trial,
      int analysis_version,
      const v1::AnalysisOptions& options) = 0;

  // ---- Calibrations ----

  // Stores a calibration, which carries its name, and its calibrated robot and surface as versions
  // that are not the current ones (numbered as by ImportBundle). One of the same name changes
  // nothing.
  //
  // Errors:
  //   kInvalidArgument   the calibration has no name, or a calibrated description has no digest
  virtual absl::StatusOr<InsertedCalibration> InsertCalibration(
      const v1::Calibration& calibration) = 0;
  // Errors:
  //   kNotFound   no such calibration
  virtual absl::StatusOr<v1::Calibration> GetCalibration(const std::string& name) = 0;
  // Errors:
  //   kInvalidArgument   page_size or page_token is not valid
  virtual absl::StatusOr<CalibrationPage> ListCalibrations(const CalibrationFilter& filter,
                                                           const PageRequest& page) = 0;

  // ---- Care ----

  // Returns the log of changes. Every member above that changes what users see adds to it in the
  // same transaction; what is written stays.
  //
  // Errors:
  //   kInvalidArgument   page_size or page_token is not valid
  virtual absl::StatusOr<ChangePage> ListChanges(const PageRequest& page) = 0;
  // Retiring again changes reason and requester; reinstating a gait in service changes nothing.
  //
  // Errors:
  //   kNotFound   no such gait
  virtual absl::Status RetireGait(const Retirement& retirement) = 0;
  virtual absl::Status ReinstateGait(const std::string& name, const std::string& requester) = 0;
  // Returns the latest retirement first.
  virtual absl::StatusOr<std::vector<v1::RetiredGait>> ListRetiredGaits() = 0;
  // Takes everything that the source gives, or nothing. A version of a robot or surface that is new
  // becomes the current one only when there was none of its name; otherwise it is numbered below
  // the lowest, 0 downwards, so that nobody's orders change under him.
  virtual absl::StatusOr<v1::ImportBundleResponse> ImportBundle(const BundleSource& source,
                                                                const std::string& requester) = 0;
  // Removes gaits that were retired long ago and that no trial refers to, and versions of
  // descriptions that are not current and that no gait, no trial and no open job refers to.
  virtual absl::StatusOr<v1::CollectGarbageResponse> CollectGarbage(
      const GarbageOptions& options) = 0;
  // Writes a copy of the whole library to a file that is not there yet, and checks the copy;
  // readers and writers go on meanwhile. The file is whole or missing.
  //
  // Errors:
  //   kAlreadyExists   the file is there
  //   kUnimplemented   the backend's own tools make backups
  virtual absl::StatusOr<v1::BackUpResponse> BackUp(const std::string& path) = 0;
  virtual absl::StatusOr<LibraryCounts> Count() = 0;
  // Tells whether a write of this process has found the storage full and it still is, which is
  // tried by storing something that takes as much as a gait, and removing it.
  virtual bool IsFull() = 0;
  // Checks the storage's own structure and the checksum of every gait and of every trial's samples.
  // Reads everything.
  //
  // Errors:
  //   kDataLoss   what is damaged
  virtual absl::Status CheckIntegrity() = 0;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_LIBRARY_H_
