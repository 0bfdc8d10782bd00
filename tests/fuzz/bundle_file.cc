// The bytes of a bundle, as an import reads them: whole, or torn, changed and forged.
#include "service/library/bundle_file.h"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "tests/fuzz/bundle_bytes.h"
#include "tests/fuzz/target.h"

namespace gaitshelf::fuzz {
namespace {

using service::BundleReader;

struct Outcome {
  absl::Status status;
  std::vector<v1::BundleEntry> entries;
  bool is_cut = false;  // where the next entry would begin
};

Outcome Read(const std::string& bytes) {
  Outcome outcome;
  std::size_t at = 0;
  BundleReader reader(SourceOf(bytes, &at));
  while (true) {
    const std::size_t start = at;
    absl::StatusOr<std::optional<v1::BundleEntry>> entry = reader.Next();
    if (!entry.ok()) {
      outcome.status = entry.status();
      outcome.is_cut = start == bytes.size();
      return outcome;
    }
    if (!entry->has_value()) {
      return outcome;
    }
    outcome.entries.push_back(**std::move(entry));
  }
}

std::string Written(const std::vector<v1::BundleEntry>& entries) {
  std::string bytes;
  service::BundleWriter writer = WriterTo(&bytes);
  for (const v1::BundleEntry& entry : entries) {
    Require(writer.Add(entry).ok(), "what was read can be written");
  }
  Require(writer.Finish().ok(), "a bundle can be finished");
  return bytes;
}

// Nothing but the end is missing: gives the bytes the one that they should have.
std::string Closed(const std::string& bytes, std::size_t entry_count) {
  service::Sha256Sum sum;
  sum.Add(bytes);
  v1::BundleEntry entry;
  entry.mutable_end()->set_entry_count(static_cast<std::int64_t>(entry_count));
  entry.mutable_end()->set_sha256(sum.Value().value());
  const std::string end = entry.SerializeAsString();
  Require(end.size() < 0x80, "the length of an end takes one byte");
  return bytes + static_cast<char>(end.size()) + end;
}

void RequireSame(const std::vector<v1::BundleEntry>& first,
                 const std::vector<v1::BundleEntry>& second) {
  Require(first.size() == second.size(), "as many entries come back");
  for (std::size_t i = 0; i < first.size(); ++i) {
    Require(first[i].SerializeAsString() == second[i].SerializeAsString(), "each as it was");
  }
}

void TryWhole(const std::string& bytes, const std::vector<v1::BundleEntry>& entries) {
  Require(service::CheckWholeBundle(SourceOf(bytes, nullptr)).ok(), "two readers agree");
  const Outcome again = Read(Written(entries));
  Require(again.status.ok(), "what was written can be read: " + again.status.ToString());
  RequireSame(again.entries, entries);
  Require(!Read(bytes + "x").status.ok(), "nothing may follow the end");
  // An end may say more than we know, which no sum is over.
  if (bytes == Written(entries)) {
    std::string changed = bytes;
    changed[changed.size() / 2] = static_cast<char>(changed[changed.size() / 2] ^ 1);
    Require(!Read(changed).status.ok(), "a bit that was turned is found");
  }
}

void Try(const std::string& bytes) {
  const Outcome outcome = Read(bytes);
  if (outcome.status.ok()) {
    TryWhole(bytes, outcome.entries);
    return;
  }
  Require(absl::IsInvalidArgument(outcome.status) && !outcome.status.message().empty(),
          "what is no bundle is told so: " + outcome.status.ToString());
  if (outcome.is_cut && !bytes.empty()) {
    const Outcome closed = Read(Closed(bytes, outcome.entries.size()));
    Require(closed.status.ok(), "only the end was missing: " + closed.status.ToString());
    RequireSame(closed.entries, outcome.entries);
  }
}

}  // namespace
}  // namespace gaitshelf::fuzz

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t size) {
  gaitshelf::fuzz::Try(std::string(reinterpret_cast<const char*>(bytes), size));
  return 0;
}
