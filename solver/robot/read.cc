#include "solver/robot/read.h"

#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "solver/robot/text_reader.h"

namespace gaitshelf::solver {
namespace {

template <typename Message>
absl::StatusOr<Message> ReadDescription(const std::string& text) {
  Message message;
  const std::vector<TextFault> faults = ReadText(text, &message);
  if (faults.empty()) {
    return message;
  }
  const auto append = [](std::string* out, const TextFault& fault) {
    absl::StrAppend(out, "line ", fault.line, ", column ", fault.column, ": ");
    absl::StrAppend(out, fault.fault.field, " is ", fault.fault.value, "; ");
    absl::StrAppend(out, fault.fault.problem, "; ", fault.fault.mend);
  };
  return absl::InvalidArgumentError(absl::StrJoin(faults, "\n", append));
}

}  // namespace

absl::StatusOr<v1::Robot> ReadRobotText(const std::string& text) {
  return ReadDescription<v1::Robot>(text);
}

absl::StatusOr<v1::Surface> ReadSurfaceText(const std::string& text) {
  return ReadDescription<v1::Surface>(text);
}

}  // namespace gaitshelf::solver
