#include "service/api/spool.h"

#include <cerrno>
#include <system_error>
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/library/room.h"

namespace gaitshelf::service {
namespace {

absl::Status Failure(absl::string_view what) {
  const int error = errno;
  const std::string message = absl::StrCat("cannot ",
                                           what,
                                           " the folder for temporary files ",
                                           P_tmpdir,
                                           ": ",
                                           std::generic_category().message(error));
  return IsNoRoom(error)
             ? absl::ResourceExhaustedError(absl::StrCat(message, "; ", FullDiskMend(P_tmpdir)))
             : absl::InternalError(message);
}

}  // namespace

absl::StatusOr<Spool> Spool::Create() {
  File file(std::tmpfile(), &std::fclose);
  if (file == nullptr) {
    return Failure("make a file in");
  }
  return Spool(std::move(file));
}

absl::Status Spool::Append(absl::string_view bytes) {
  if (std::fwrite(bytes.data(), 1, bytes.size(), file_.get()) != bytes.size()) {
    return Failure("write to");
  }
  size_ += static_cast<std::int64_t>(bytes.size());
  return absl::OkStatus();
}

absl::Status Spool::Rewind() {
  if (std::fflush(file_.get()) != 0 || std::fseek(file_.get(), 0, SEEK_SET) != 0) {
    return Failure("write to");
  }
  return absl::OkStatus();
}

absl::StatusOr<std::size_t> Spool::Read(char* bytes, std::size_t size) {
  const std::size_t got = std::fread(bytes, 1, size, file_.get());
  if (got < size && std::ferror(file_.get()) != 0) {
    return Failure("read from");
  }
  return got;
}

}  // namespace gaitshelf::service
