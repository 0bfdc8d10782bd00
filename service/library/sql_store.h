// The library on tables, whichever database holds them. Its members are spread over
// sql_descriptions.cc, sql_gaits.cc, sql_gait_bodies.cc, sql_jobs.cc, sql_attempts.cc,
// sql_trials.cc, sql_calibrations.cc, sql_changes.cc, sql_counts.cc, sql_care.cc and
// sql_garbage.cc. Everybody else uses library.h and sqlite_library.h.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQL_STORE_H_
#define GAITSHELF_SERVICE_LIBRARY_SQL_STORE_H_

#include <atomic>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <type_traits>
#include <utility>
#include <vector>

#include "google/protobuf/timestamp.pb.h"

#include "service/library/gait_cache.h"
#include "service/library/library.h"
#include "service/library/sql_storage.h"

namespace gaitshelf::service {

struct SqlStoreOptions {
  int queue_limit = 1000;   // most jobs that may be open at a time
  int jobs_per_member = 0;  // most of them of one requester; 0 means half
  int crash_limit = 5;      // worker crashes after which a job fails
  // Bodies of gaits kept in memory: they need not be read again, and are there while the storage is
  // out of reach. 0 keeps none.
  std::size_t gait_cache_bytes = 0;
};

class SqlStore final : public Library {
 public:
  SqlStore(std::unique_ptr<SqlStorage> storage, const SqlStoreOptions& options);

  absl::StatusOr<PutRobotResult> PutRobot(const v1::Robot& robot,
                                          const std::string& digest,
                                          const std::string& requester) override;
  absl::StatusOr<PutSurfaceResult> PutSurface(const v1::Surface& surface,
                                              const std::string& digest,
                                              const std::string& requester) override;
  absl::StatusOr<v1::StoredRobot> GetRobot(const std::string& name,
                                           const std::string& digest) override;
  absl::StatusOr<v1::StoredSurface> GetSurface(const std::string& name,
                                               const std::string& digest) override;
  absl::StatusOr<std::vector<v1::StoredRobot>> ListRobots() override;
  absl::StatusOr<std::vector<v1::StoredSurface>> ListSurfaces() override;

  absl::Status PutLegTables(const std::string& robot_digest, const v1::LegTables& tables) override;
  absl::StatusOr<v1::LegTables> GetLegTables(const std::string& robot_digest) override;

  absl::Status InsertGait(const v1::Gait& gait, const std::string& key) override;
  absl::StatusOr<SharedBytes> GetGaitBytes(const std::string& name) override;
  absl::StatusOr<GaitsInMemory> LoadGaits(const std::function<bool()>& is_stopped) override;
  absl::StatusOr<v1::GaitSummary> GetGaitSummary(const std::string& name) override;
  absl::StatusOr<v1::GaitSummary> FindBestGait(const std::string& key) override;
  absl::StatusOr<GaitPage> ListGaits(const GaitFilter& filter, const PageRequest& page) override;

  absl::StatusOr<OrderedJob> OrderJob(const JobOrder& order) override;
  absl::StatusOr<v1::Job> GetJob(const std::string& name) override;
  absl::StatusOr<JobPage> ListJobs(bool only_open, const PageRequest& page) override;
  absl::StatusOr<v1::Job> RequestCancel(const std::string& name,
                                        const std::string& requester) override;

  std::optional<std::uint64_t> JobNews(const std::string& name) override {
    return storage_->News(name);
  }

  absl::StatusOr<std::optional<JobAttempt>> ClaimNextJob(const std::string& owner) override;
  absl::StatusOr<JobAttempt> ClaimJob(const std::string& name, const std::string& owner) override;
  absl::StatusOr<std::vector<std::string>> ListQueuedJobs(int limit) override;
  absl::StatusOr<std::vector<RunningJob>> ListRunningJobs() override;
  absl::StatusOr<JobAttempt> GetAttempt(const JobFence& fence) override;
  absl::StatusOr<bool> IsCancelRequested(const JobFence& fence) override;
  absl::Status WriteHeartbeat(const JobFence& fence) override;
  absl::Status WriteProgress(const JobFence& fence, const v1::PlanProgress& progress) override;
  absl::Status WriteCheckpoint(const JobFence& fence,
                               const v1::PlanCheckpoint& checkpoint) override;
  absl::StatusOr<v1::Job> FinishJob(const JobFence& fence, const JobEnd& end) override;
  absl::StatusOr<v1::Job> RequeueLostJob(const JobFence& fence, const JobLoss& loss) override;

  absl::StatusOr<InsertedTrial> InsertTrial(const v1::Trial& trial,
                                            const std::vector<std::string>& blocks) override;
  absl::StatusOr<v1::Trial> GetTrial(const std::string& name) override;
  absl::StatusOr<int> CountTrialBlocks(const std::string& name) override;
  absl::StatusOr<std::string> GetTrialBlock(const std::string& name, int number) override;
  absl::StatusOr<TrialPage> ListTrials(const TrialFilter& filter, const PageRequest& page) override;
  absl::Status PutTrialAnalysis(const v1::TrialAnalysis& analysis) override;
  absl::StatusOr<std::optional<v1::TrialAnalysis>> FindTrialAnalysis(
      const std::string& trial,
      int analysis_version,
      const v1::AnalysisOptions& options) override;

  absl::StatusOr<InsertedCalibration> InsertCalibration(
      const v1::Calibration& calibration) override;
  absl::StatusOr<v1::Calibration> GetCalibration(const std::string& name) override;
  absl::StatusOr<CalibrationPage> ListCalibrations(const CalibrationFilter& filter,
                                                   const PageRequest& page) override;

  absl::StatusOr<ChangePage> ListChanges(const PageRequest& page) override;
  absl::Status RetireGait(const Retirement& retirement) override;
  absl::Status ReinstateGait(const std::string& name, const std::string& requester) override;
  absl::StatusOr<std::vector<v1::RetiredGait>> ListRetiredGaits() override;
  absl::StatusOr<v1::ImportBundleResponse> ImportBundle(const BundleSource& source,
                                                        const std::string& requester) override;
  absl::StatusOr<v1::CollectGarbageResponse> CollectGarbage(const GarbageOptions& options) override;
  absl::StatusOr<v1::BackUpResponse> BackUp(const std::string& path) override {
    return storage_->BackUp(path);
  }
  absl::StatusOr<LibraryCounts> Count() override;
  bool IsFull() override;
  absl::Status CheckIntegrity() override;

 private:
  // Do work on a connection, which gives an absl::Status or StatusOr.
  template <typename Work>
  auto Read(const Work& work) {
    return Do(work, [this](SqlStorage::Work step) { return storage_->Read(step); });
  }
  template <typename Work>
  auto Write(WriteScope scope, const Work& work) {
    return Do(work, [&](SqlStorage::Work step) { return storage_->Write(scope, step); });
  }
  // The same for what adds, changes or removes gaits.
  template <typename Work>
  auto WriteGaits(const Work& work) {
    auto result = Write(WriteScope::kLibrary, work);
    ++gait_write_count_;
    return result;
  }
  template <typename Work, typename Run>
  static std::invoke_result_t<Work, SqlConnection*> Do(const Work& work, const Run& run) {
    using Result = std::invoke_result_t<Work, SqlConnection*>;
    if constexpr (std::is_same_v<Result, absl::Status>) {
      return run(work);
    } else {
      Result result = absl::InternalError("the work was not done");
      const absl::Status status = run([&](SqlConnection* connection) {
        result = work(connection);
        return result.status();
      });
      return status.ok() ? std::move(result) : Result(status);
    }
  }

  // SqlStorage::News of a gait, but of what this process has written at once.
  std::optional<std::uint64_t> GaitNews(const std::string& name);
  // Reads a body, unless its checksum is still that of the one that is kept.
  absl::StatusOr<KeptGait> ReadGait(const std::string& name, const std::optional<KeptGait>& kept);
  // Keeps a gait in memory unless something else had to go for it; false when there is no room.
  absl::StatusOr<bool> KeepIfRoom(const std::string& name);
  absl::Status CheckGaitBodies();
  absl::Status CheckTrialBlocks();

  const std::unique_ptr<SqlStorage> storage_;
  const SqlStoreOptions options_;
  GaitCache gait_cache_;
  std::atomic<std::uint64_t> gait_write_count_{0};
};

// ---- Helpers that the parts share ----

// That there is no gait of a name.
absl::Status NoGait(const std::string& name);
// Now, microseconds since 1970.
std::int64_t NowUs();
google::protobuf::Timestamp TimestampOf(std::int64_t time_us);

// A checked PageRequest: rows with an id below `below_id`, at most `size`.
struct PageBounds {
  std::int64_t below_id = 0;
  std::int64_t size = 0;
};
absl::StatusOr<PageBounds> ReadPageRequest(const PageRequest& page);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQL_STORE_H_
