#include "service/library/sql_store.h"

#include <chrono>
#include <limits>
#include <utility>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

constexpr int kDefaultPageSize = 100;
constexpr int kGreatestPageSize = 1000;

}  // namespace

SqlStore::SqlStore(std::unique_ptr<SqlStorage> storage, const SqlStoreOptions& options)
    : storage_(std::move(storage)), options_(options), gait_cache_(options.gait_cache_bytes) {}

std::optional<std::uint64_t> SqlStore::GaitNews(const std::string& name) {
  const std::optional<std::uint64_t> news = storage_->News(name);
  // Both only grow, so the sum is the same only while both are.
  return news.has_value() ? std::optional(*news + gait_write_count_) : std::nullopt;
}

absl::Status SqlStore::CheckIntegrity() {
  GAITSHELF_RETURN_IF_ERROR(storage_->CheckStructure());
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
