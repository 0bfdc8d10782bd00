#include "clients/cli/output_file.h"

#include <cstdio>
#include <utility>

#include "absl/strings/str_cat.h"

namespace gaitshelf::client {
namespace {

absl::Status CannotWrite(const std::string& path) {
  return absl::FailedPreconditionError(
      absl::StrCat(path, ": cannot be written; check the folder, its rights and the disk"));
}

}  // namespace

OutputFile::OutputFile(std::string path) : path_(std::move(path)) {
  stream_.open(part_path(), std::ios::trunc);
}

absl::Status OutputFile::Check() const {
  return stream_.fail() ? CannotWrite(path_) : absl::OkStatus();
}

absl::Status OutputFile::Finish() {
  stream_.close();
  if (stream_.fail() || std::rename(part_path().c_str(), path_.c_str()) != 0) {
    return CannotWrite(path_);
  }
  return absl::OkStatus();
}

void OutputFile::Abandon() {
  stream_.close();
  std::remove(part_path().c_str());
}

}  // namespace gaitshelf::client
