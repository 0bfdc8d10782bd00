// A file without a name that goes with its owner: for what is too much to hold in memory.
#ifndef GAITSHELF_SERVICE_API_SPOOL_H_
#define GAITSHELF_SERVICE_API_SPOOL_H_

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <memory>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/string_view.h"

namespace gaitshelf::service {

class Spool {
 public:
  // Errors of this and of the members:
  //   kResourceExhausted   the disk is full
  //   kInternal            the file system refused otherwise
  static absl::StatusOr<Spool> Create();

  // Adds bytes at the end.
  absl::Status Append(absl::string_view bytes);
  // Goes back to the first byte, to read. Nothing may be added after.
  absl::Status Rewind();
  // Reads at most `size` bytes and returns how many; 0 at the end.
  absl::StatusOr<std::size_t> Read(char* bytes, std::size_t size);
  // Bytes that were added.
  std::int64_t size() const { return size_; }

 private:
  using File = std::unique_ptr<std::FILE, int (*)(std::FILE*)>;
  explicit Spool(File file) : file_(std::move(file)) {}

  File file_;
  std::int64_t size_ = 0;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_SPOOL_H_
