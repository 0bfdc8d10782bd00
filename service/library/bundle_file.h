// The bytes of a bundle: a first line, entries each after its length, and an end with a checksum.
// What the entries say is the caller's to check.
#ifndef GAITSHELF_SERVICE_LIBRARY_BUNDLE_FILE_H_
#define GAITSHELF_SERVICE_LIBRARY_BUNDLE_FILE_H_

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>

#include "gaitshelf/v1/care_service.pb.h"

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/string_view.h"
#include "service/library/checksum.h"

namespace gaitshelf::service {

// The largest entry, bytes. A gait of 400 knots and 16 legs takes about 2 MB.
inline constexpr std::size_t kMostEntryBytes = 16 << 20;

class BundleWriter {
 public:
  // Takes the bytes of the file, in their order; what it fails with ends the writing.
  using Sink = std::function<absl::Status(absl::string_view)>;

  explicit BundleWriter(Sink sink) : sink_(std::move(sink)) {}

  // Adds an entry.
  //
  // Errors:
  //   kInvalidArgument   the entry is empty, an end, or too large
  absl::Status Add(const v1::BundleEntry& entry);
  // Writes the end. Nothing may be added after.
  absl::Status Finish();

 private:
  absl::Status Put(absl::string_view bytes);
  absl::Status PutEntry(const v1::BundleEntry& entry);
  absl::Status Begin();

  Sink sink_;
  Sha256Sum sum_;
  std::int64_t entry_count_ = 0;
  bool is_begun_ = false;
};

class BundleReader {
 public:
  // Reads at most `size` bytes and returns how many; 0 at the end of the file.
  using Source = std::function<absl::StatusOr<std::size_t>(char* bytes, std::size_t size)>;

  explicit BundleReader(Source source) : source_(std::move(source)) {}

  // Returns the next entry, or nothing after the last one, when the whole file has proved sound.
  //
  // Errors:
  //   kInvalidArgument   the bytes are no bundle, or not a whole one, or not as they were written
  absl::StatusOr<std::optional<v1::BundleEntry>> Next();

 private:
  // Reads exactly this many bytes.
  absl::StatusOr<std::string> Take(std::size_t size);
  absl::StatusOr<std::size_t> TakeLength();
  absl::Status CheckEnd(const v1::BundleEnd& end, const std::string& sum);

  Source source_;
  Sha256Sum sum_;
  std::int64_t entry_count_ = 0;
  bool is_begun_ = false;
  bool is_ended_ = false;
};

// Reads a file to its end, before anything in it is looked at: a wrong byte must not be told as a
// fault of the robot that it is in.
//
// Errors: those of Next.
absl::Status CheckWholeBundle(const BundleReader::Source& source);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_BUNDLE_FILE_H_
