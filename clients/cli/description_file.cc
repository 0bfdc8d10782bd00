#include "clients/cli/description_file.h"

#include <array>
#include <cerrno>
#include <cstddef>
#include <fstream>
#include <system_error>
#include <utility>
#include <vector>

#include <google/protobuf/io/tokenizer.h>
#include <google/protobuf/text_format.h>

#include "absl/status/status.h"
#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"

namespace gaitshelf::client {
namespace {

class FaultCollector : public google::protobuf::io::ErrorCollector {
 public:
  explicit FaultCollector(std::string path) : path_(std::move(path)) {}

  void AddError(int line,
                google::protobuf::io::ColumnNumber column,
                const std::string& message) override {
    faults_.push_back(absl::StrCat(path_, ":", line + 1, ":", column + 1, ": ", message));
  }

  absl::Status ToStatus() const {
    return absl::InvalidArgumentError(
        faults_.empty() ? absl::StrCat(path_, ": is not a description in protobuf text form")
                        : absl::StrJoin(faults_, "\n"));
  }

 private:
  std::string path_;
  std::vector<std::string> faults_;
};

absl::StatusOr<std::string> ReadText(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::string text;
  std::array<char, 4096> block = {};
  // read() turns a failure, such as a folder in place of a file, into a state; iterators throw.
  while (file.read(block.data(), block.size()) || file.gcount() > 0) {
    text.append(block.data(), static_cast<std::size_t>(file.gcount()));
  }
  if (!file.is_open() || file.bad()) {
    return absl::FailedPreconditionError(
        absl::StrCat(path, ": cannot be read: ", std::generic_category().message(errno)));
  }
  return text;
}

template <typename Description>
absl::StatusOr<Description> Parse(const std::string& path, const std::string& text) {
  FaultCollector collector(path);
  google::protobuf::TextFormat::Parser parser;
  parser.RecordErrorsTo(&collector);
  Description description;
  if (!parser.ParseFromString(text, &description)) {
    return collector.ToStatus();
  }
  return description;
}

template <typename Description>
absl::StatusOr<Description> ReadFile(const std::string& path) {
  absl::StatusOr<std::string> text = ReadText(path);
  if (!text.ok()) {
    return text.status();
  }
  return Parse<Description>(path, *text);
}

}  // namespace

absl::StatusOr<v1::Robot> ReadRobotFile(const std::string& path) {
  return ReadFile<v1::Robot>(path);
}

absl::StatusOr<v1::Surface> ReadSurfaceFile(const std::string& path) {
  return ReadFile<v1::Surface>(path);
}

absl::StatusOr<std::variant<v1::Robot, v1::Surface>> ReadDescriptionFile(const std::string& path) {
  absl::StatusOr<std::string> text = ReadText(path);
  if (!text.ok()) {
    return text.status();
  }
  // Only a surface has a friction; everything else is judged as a robot.
  const bool is_surface =
      absl::EndsWith(path, ".surface.textproto") ||
      (!absl::EndsWith(path, ".robot.textproto") && absl::StrContains(*text, "friction"));
  if (is_surface) {
    absl::StatusOr<v1::Surface> surface = Parse<v1::Surface>(path, *text);
    if (!surface.ok()) {
      return surface.status();
    }
    return *std::move(surface);
  }
  absl::StatusOr<v1::Robot> robot = Parse<v1::Robot>(path, *text);
  if (!robot.ok()) {
    return robot.status();
  }
  return *std::move(robot);
}

}  // namespace gaitshelf::client
