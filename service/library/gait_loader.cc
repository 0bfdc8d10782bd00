#include "service/library/gait_loader.h"

#include <utility>

#include "absl/status/statusor.h"

namespace gaitshelf::service {

GaitLoader::GaitLoader(Library* library, EventLog log) : library_(library), log_(std::move(log)) {}

void GaitLoader::Load() {
  const absl::StatusOr<GaitsInMemory> loaded =
      library_->LoadGaits([this] { return is_stopped_.load(); });
  if (!loaded.ok()) {
    if (!absl::IsUnavailable(loaded.status())) {
      Tell(log_,
           {.level = LogLevel::kWarning,
            .what = "gaits are not loaded",
            .fields = {{"reason", loaded.status().message()}}});
    }
    return;
  }
  if (is_stopped_ || loaded->gait_count == told_count_) {
    return;
  }
  told_count_ = loaded->gait_count;
  constexpr double kBytesPerMb = 1 << 20;
  Tell(log_,
       {.what = loaded->is_full ? "memory for gaits is full" : "gaits are in memory",
        .fields = {{"gaits", loaded->gait_count},
                   {"mb", static_cast<double>(loaded->byte_count) / kBytesPerMb}}});
}

}  // namespace gaitshelf::service
