#include "service/library/sqlite_library.h"

#include <chrono>
#include <limits>
#include <utility>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "service/library/sqlite_schema.h"
#include "service/library/sqlite_store.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

constexpr int kDefaultPageSize = 100;
constexpr int kGreatestPageSize = 1000;

}  // namespace

absl::StatusOr<std::unique_ptr<Library>> OpenSqliteLibrary(const std::string& path,
                                                           const SqliteLibraryOptions& options) {
  GAITSHELF_ASSIGN_OR_RETURN(std::unique_ptr<SqliteConnection> writer,
                             SqliteConnection::Open(path, options.busy_timeout_ms));
  GAITSHELF_RETURN_IF_ERROR(UpgradeSqliteSchema(writer.get(), SqliteSchemaSteps()));
  GAITSHELF_ASSIGN_OR_RETURN(std::unique_ptr<SqliteConnection> reader,
                             SqliteConnection::Open(path, options.busy_timeout_ms));
  GAITSHELF_RETURN_IF_ERROR(reader->Execute("PRAGMA query_only = ON"));
  return std::make_unique<SqliteStore>(std::move(writer), std::move(reader), options);
}

SqliteStore::SqliteStore(std::unique_ptr<SqliteConnection> writer,
                         std::unique_ptr<SqliteConnection> reader,
                         const SqliteLibraryOptions& options)
    : options_(options), writer_(std::move(writer)), reader_(std::move(reader)) {}

absl::Status SqliteStore::CheckIntegrity() {
  {
    const std::lock_guard<std::mutex> lock(read_mutex_);
    GAITSHELF_ASSIGN_OR_RETURN(SqliteStatement check, reader_->Prepare("PRAGMA integrity_check"));
    std::string faults;
    GAITSHELF_ASSIGN_OR_RETURN(bool has_row, check.Step());
    while (has_row) {
      const std::string line = check.Bytes(0);
      if (line != "ok") {
        absl::StrAppend(&faults, faults.empty() ? "" : "; ", line);
      }
      GAITSHELF_ASSIGN_OR_RETURN(has_row, check.Step());
    }
    GAITSHELF_ASSIGN_OR_RETURN(SqliteStatement keys, reader_->Prepare("PRAGMA foreign_key_check"));
    GAITSHELF_ASSIGN_OR_RETURN(has_row, keys.Step());
    if (has_row) {
      absl::StrAppend(&faults, faults.empty() ? "" : "; ", "orphan row in ", keys.Bytes(0));
    }
    if (!faults.empty()) {
      return absl::DataLossError(absl::StrCat("library ", reader_->path(), ": ", faults));
    }
  }
  const absl::Status gaits = CheckGaitBodies();
  const absl::Status trials = CheckTrialBlocks();
  if (absl::IsDataLoss(gaits) && absl::IsDataLoss(trials)) {
    return absl::DataLossError(absl::StrCat(gaits.message(), "; ", trials.message()));
  }
  return gaits.ok() ? trials : gaits;
}

std::int64_t NowUs() {
  return std::chrono::duration_cast<std::chrono::microseconds>(
             std::chrono::system_clock::now().time_since_epoch())
      .count();
}

google::protobuf::Timestamp TimestampOf(std::int64_t time_us) {
  constexpr std::int64_t kUsPerS = 1'000'000;
  google::protobuf::Timestamp time;
  time.set_seconds(time_us / kUsPerS);
  time.set_nanos(static_cast<std::int32_t>(time_us % kUsPerS * 1000));
  return time;
}

absl::StatusOr<PageBounds> ReadPageRequest(const PageRequest& page) {
  PageBounds bounds{.below_id = std::numeric_limits<std::int64_t>::max(),
                    .size = page.page_size == 0 ? kDefaultPageSize : page.page_size};
  if (bounds.size < 1 || bounds.size > kGreatestPageSize) {
    return absl::InvalidArgumentError(absl::StrCat("page_size is ",
                                                   page.page_size,
                                                   "; allowed is 0 (for ",
                                                   kDefaultPageSize,
                                                   ") to ",
                                                   kGreatestPageSize));
  }
  if (!page.page_token.empty() &&
      (!absl::SimpleAtoi(page.page_token, &bounds.below_id) || bounds.below_id < 1)) {
    return absl::InvalidArgumentError(
        absl::StrCat("page_token is '",
                     page.page_token,
                     "'; give back the next_page_token of the page before, unchanged"));
  }
  return bounds;
}

}  // namespace gaitshelf::service
