// Descriptions from protobuf text, as the server reads them.
#ifndef GAITSHELF_TESTS_SUPPORT_READ_DESCRIPTION_H_
#define GAITSHELF_TESTS_SUPPORT_READ_DESCRIPTION_H_

#include <string>
#include <vector>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "solver/robot/text_reader.h"

namespace gaitshelf::test {

// Errors: kInvalidArgument with a line for each fault.
template <typename Description>
absl::StatusOr<Description> ReadDescriptionText(const std::string& text) {
  Description description;
  const std::vector<solver::TextFault> faults = solver::ReadText(text, &description);
  if (faults.empty()) {
    return description;
  }
  const auto append = [](std::string* out, const solver::TextFault& fault) {
    absl::StrAppend(out, "line ", fault.line, ", column ", fault.column, ": ");
    absl::StrAppend(out, fault.fault.field, " is ", fault.fault.value, "; ");
    absl::StrAppend(out, fault.fault.problem, "; ", fault.fault.mend);
  };
  return absl::InvalidArgumentError(absl::StrJoin(faults, "\n", append));
}

inline absl::StatusOr<v1::Robot> ReadRobotText(const std::string& text) {
  return ReadDescriptionText<v1::Robot>(text);
}

inline absl::StatusOr<v1::Surface> ReadSurfaceText(const std::string& text) {
  return ReadDescriptionText<v1::Surface>(text);
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_READ_DESCRIPTION_H_
