#include "service/library/bundle_file.h"

#include <algorithm>
#include <cstring>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using test::HasStatus;
using test::IsOk;
using testing::ElementsAre;
using testing::HasSubstr;

v1::BundleEntry SurfaceEntry(const std::string& name) {
  v1::BundleEntry entry;
  entry.mutable_surface()->set_name(name);
  return entry;
}

std::string Write(const std::vector<std::string>& names) {
  std::string file;
  BundleWriter writer([&file](absl::string_view bytes) {
    absl::StrAppend(&file, bytes);
    return absl::OkStatus();
  });
  for (const std::string& name : names) {
    EXPECT_THAT(writer.Add(SurfaceEntry(name)), IsOk());
  }
  EXPECT_THAT(writer.Finish(), IsOk());
  return file;
}

// Reads a file that comes a few bytes at a time.
absl::StatusOr<std::vector<std::string>> ReadNames(const std::string& file) {
  std::size_t at = 0;
  BundleReader reader([&](char* bytes, std::size_t size) -> absl::StatusOr<std::size_t> {
    const std::size_t taken = std::min({size, file.size() - at, std::size_t{7}});
    std::memcpy(bytes, file.data() + at, taken);
    at += taken;
    return taken;
  });
  std::vector<std::string> names;
  while (true) {
    const auto entry = reader.Next();
    if (!entry.ok()) {
      return entry.status();
    }
    if (!entry->has_value()) {
      return names;
    }
    names.push_back((*entry)->surface().name());
  }
}

TEST(BundleFileTest, GivesBackWhatWasWritten) {
  const std::string long_name(100000, 'x');
  const auto names = ReadNames(Write({"duct-steel", long_name, "grit-tape"}));
  ASSERT_THAT(names, IsOk());
  EXPECT_THAT(*names, ElementsAre("duct-steel", long_name, "grit-tape"));
  EXPECT_THAT(ReadNames(Write({})), IsOk());
}

TEST(BundleFileTest, RefusesEveryTornFile) {
  const std::string file = Write({"duct-steel", "grit-tape"});
  for (std::size_t size = 0; size < file.size(); ++size) {
    EXPECT_THAT(ReadNames(file.substr(0, size)),
                HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("bundle")))
        << size;
  }
  EXPECT_THAT(ReadNames(file + "x"),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("goes on after its end")));
}

TEST(BundleFileTest, RefusesEveryFileWithOneWrongByte) {
  const std::string file = Write({"duct-steel", "grit-tape"});
  for (std::size_t at = 0; at < file.size(); ++at) {
    std::string damaged = file;
    damaged[at] = static_cast<char>(damaged[at] ^ 0x10);
    EXPECT_FALSE(ReadNames(damaged).ok()) << at;
  }
}

TEST(BundleFileTest, RefusesALengthBeyondTheLimit) {
  EXPECT_THAT(ReadNames("gaitshelf bundle 1\n\xff\xff\xff\x7f"),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("too large")));
  EXPECT_THAT(ReadNames(std::string("gaitshelf bundle 1\n\x82\x00", 21)),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("no export writes")));
}

TEST(BundleFileTest, WritesNoEmptyEntry) {
  BundleWriter writer([](absl::string_view) { return absl::OkStatus(); });
  v1::BundleEntry entry;
  EXPECT_THAT(writer.Add(entry), HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("holds")));
  entry.mutable_end();
  EXPECT_THAT(writer.Add(entry), HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("holds")));
}

TEST(BundleFileTest, PassesOnWhyItCannotWrite) {
  BundleWriter writer([](absl::string_view) { return absl::ResourceExhaustedError("full"); });
  EXPECT_THAT(writer.Add(SurfaceEntry("duct-steel")),
              HasStatus(absl::StatusCode::kResourceExhausted, HasSubstr("full")));
}

}  // namespace
}  // namespace gaitshelf::service
