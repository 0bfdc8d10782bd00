#include "service/library/room.h"

#include <cerrno>
#include <filesystem>
#include <system_error>

#include "absl/strings/str_format.h"

namespace gaitshelf::service {
namespace {

// Whoever finds no room on a disk with more than this has met another bound: nothing that is stored
// in one piece is larger.
constexpr double kRoomForAny_mb = 100;

}  // namespace

std::string FolderOf(const std::string& path) {
  const std::filesystem::path folder = std::filesystem::path(path).parent_path();
  return folder.empty() ? "." : folder.string();
}

bool IsNoRoom(int system_error) {
  return system_error == ENOSPC || system_error == EDQUOT || system_error == EFBIG;
}

std::optional<std::int64_t> FreeBytes(const std::string& folder) {
  std::error_code error;
  const std::filesystem::space_info space = std::filesystem::space(folder, error);
  return error ? std::nullopt
               : std::optional<std::int64_t>(static_cast<std::int64_t>(space.available));
}

std::string FullDiskMend(const std::string& folder) {
  const std::optional<std::int64_t> free_bytes = FreeBytes(folder);
  if (!free_bytes.has_value()) {
    return absl::StrFormat("the disk of %s is full: make room there and ask again", folder);
  }
  const double free_mb = static_cast<double>(*free_bytes) / (1 << 20);
  if (free_mb > kRoomForAny_mb) {
    return absl::StrFormat(
        "the disk of %s has %.0f MB left, but a quota or a limit of the size of files is met: "
        "raise "
        "it or make room there, and ask again",
        folder,
        free_mb);
  }
  return absl::StrFormat(
      "the disk of %s has %.1f MB left: make room there and ask again", folder, free_mb);
}

}  // namespace gaitshelf::service
