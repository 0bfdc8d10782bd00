// The file of a bundle in memory.
#ifndef GAITSHELF_TESTS_FUZZ_BUNDLE_BYTES_H_
#define GAITSHELF_TESTS_FUZZ_BUNDLE_BYTES_H_

#include <algorithm>
#include <cstddef>
#include <cstring>
#include <string>

#include "service/library/bundle_file.h"

namespace gaitshelf::fuzz {

// Reads bytes, which outlive it, in uneven pieces, as they come from a stream. `at` may be null; it
// is brought to where the reading has come.
inline service::BundleReader::Source SourceOf(const std::string& bytes, std::size_t* at) {
  return [&bytes, at, from = std::size_t{0}](
             char* to, std::size_t size) mutable -> absl::StatusOr<std::size_t> {
    const std::size_t taken = std::min({size, bytes.size() - from, from % 61 + 1});
    std::memcpy(to, bytes.data() + from, taken);
    from += taken;
    if (at != nullptr) {
      *at = from;
    }
    return taken;
  };
}

inline service::BundleWriter WriterTo(std::string* bytes) {
  return service::BundleWriter([bytes](absl::string_view piece) {
    bytes->append(piece.data(), piece.size());
    return absl::OkStatus();
  });
}

}  // namespace gaitshelf::fuzz

#endif  // GAITSHELF_TESTS_FUZZ_BUNDLE_BYTES_H_
