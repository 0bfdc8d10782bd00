#include "service/library/bundle_file.h"

#include <algorithm>

#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

constexpr absl::string_view kFirstLine = "gaitshelf bundle 1\n";
// A length is a base-128 varint, lowest digits first, as in the encoding of protobuf.
constexpr unsigned kDigitBits = 7;
constexpr unsigned kMoreFollows = 0x80;
// Four digits reach 268 million, far above the largest entry.
constexpr unsigned kMostDigits = 4;
// Bytes are taken in pieces, so that a wrong length does not make room for what never comes.
constexpr std::size_t kPieceBytes = 64 << 10;

std::string Varint(std::size_t value) {
  std::string digits;
  while (value >= kMoreFollows) {
    digits.push_back(static_cast<char>((value & (kMoreFollows - 1)) | kMoreFollows));
    value >>= kDigitBits;
  }
  digits.push_back(static_cast<char>(value));
  return digits;
}

absl::Status Unsound(absl::string_view what) {
  return absl::InvalidArgumentError(
      absl::StrCat("the bundle ", what, "; nothing was taken; export it again"));
}

}  // namespace

absl::Status BundleWriter::Put(absl::string_view bytes) {
  sum_.Add(bytes);
  return sink_(bytes);
}

absl::Status BundleWriter::Begin() {
  if (is_begun_) {
    return absl::OkStatus();
  }
  is_begun_ = true;
  return Put(kFirstLine);
}

absl::Status BundleWriter::PutEntry(const v1::BundleEntry& entry) {
  const std::string bytes = entry.SerializeAsString();
  if (bytes.size() > kMostEntryBytes) {
    return absl::InvalidArgumentError(absl::StrCat(
        "an entry of a bundle has ", bytes.size(), " bytes; at most ", kMostEntryBytes));
  }
  GAITSHELF_RETURN_IF_ERROR(Put(Varint(bytes.size())));
  return Put(bytes);
}

absl::Status BundleWriter::Add(const v1::BundleEntry& entry) {
  if (entry.content_case() == v1::BundleEntry::CONTENT_NOT_SET || entry.has_end()) {
    return absl::InvalidArgumentError("an entry of a bundle holds a robot, a surface or a gait");
  }
  GAITSHELF_RETURN_IF_ERROR(Begin());
  GAITSHELF_RETURN_IF_ERROR(PutEntry(entry));
  ++entry_count_;
  return absl::OkStatus();
}

absl::Status BundleWriter::Finish() {
  GAITSHELF_RETURN_IF_ERROR(Begin());
  v1::BundleEntry entry;
  entry.mutable_end()->set_entry_count(entry_count_);
  GAITSHELF_ASSIGN_OR_RETURN(*entry.mutable_end()->mutable_sha256(), sum_.Value());
  return PutEntry(entry);
}

absl::StatusOr<std::string> BundleReader::Take(std::size_t size) {
  std::string bytes;
  while (bytes.size() < size) {
    const std::size_t had = bytes.size();
    const std::size_t wanted = std::min(size - had, kPieceBytes);
    bytes.resize(had + wanted);
    GAITSHELF_ASSIGN_OR_RETURN(const std::size_t got, source_(bytes.data() + had, wanted));
    if (got == 0) {
      return Unsound("ends early");
    }
    bytes.resize(had + got);
  }
  return bytes;
}

absl::StatusOr<std::size_t> BundleReader::TakeLength() {
  std::size_t length = 0;
  for (unsigned i = 0; i < kMostDigits; ++i) {
    GAITSHELF_ASSIGN_OR_RETURN(const std::string byte, Take(1));
    const unsigned digit = static_cast<unsigned char>(byte[0]);
    length |= static_cast<std::size_t>(digit & (kMoreFollows - 1)) << (kDigitBits * i);
    if ((digit & kMoreFollows) != 0) {
      continue;
    }
    if (length > kMostEntryBytes) {
      break;
    }
    if (Varint(length).size() != i + 1) {
      return Unsound("has a length that no export writes");
    }
    return length;
  }
  return Unsound("has an entry that is too large");
}

absl::Status BundleReader::CheckEnd(const v1::BundleEnd& end, const std::string& sum) {
  if (end.entry_count() != entry_count_ || end.sha256() != sum) {
    return Unsound("does not match its checksum");
  }
  char more = 0;
  GAITSHELF_ASSIGN_OR_RETURN(const std::size_t got, source_(&more, 1));
  if (got != 0) {
    return Unsound("goes on after its end");
  }
  is_ended_ = true;
  return absl::OkStatus();
}

absl::StatusOr<std::optional<v1::BundleEntry>> BundleReader::Next() {
  if (is_ended_) {
    return std::nullopt;
  }
  if (!is_begun_) {
    const absl::StatusOr<std::string> line = Take(kFirstLine.size());
    if (!line.ok() || *line != kFirstLine) {
      return absl::InvalidArgumentError(
          "the bytes are no bundle: they do not begin with the line 'gaitshelf bundle 1'; give a "
          "file that an export wrote");
    }
    sum_.Add(*line);
    is_begun_ = true;
  }
  GAITSHELF_ASSIGN_OR_RETURN(const std::string sum, sum_.Value());
  GAITSHELF_ASSIGN_OR_RETURN(const std::size_t length, TakeLength());
  GAITSHELF_ASSIGN_OR_RETURN(const std::string bytes, Take(length));
  v1::BundleEntry entry;
  if (!entry.ParseFromString(bytes) || entry.content_case() == v1::BundleEntry::CONTENT_NOT_SET) {
    return Unsound(absl::StrCat("has an entry ", entry_count_ + 1, " that cannot be read"));
  }
  if (entry.has_end()) {
    GAITSHELF_RETURN_IF_ERROR(CheckEnd(entry.end(), sum));
    return std::nullopt;
  }
  sum_.Add(Varint(length));
  sum_.Add(bytes);
  ++entry_count_;
  return entry;
}

absl::Status CheckWholeBundle(const BundleReader::Source& source) {
  BundleReader bundle(source);
  while (true) {
    GAITSHELF_ASSIGN_OR_RETURN(const std::optional<v1::BundleEntry> entry, bundle.Next());
    if (!entry.has_value()) {
      return absl::OkStatus();
    }
  }
}

}  // namespace gaitshelf::service
