// Reads the labels of a trial's columns: what is measured, on which part, in which unit.
//
//   label = name ["[" unit "]"]
//   name  = "time" | "phase" | "power" | "tilt" | "pull force" | "normal force"
//         | "slide distance" | "slide time" | "added mass"
//         | "body" ("x" | "y" | "z" | "roll" | "pitch" | "yaw")
//         | leg ("lift" | "swing") ["voltage" | "current" | "force"]
//         | foot ("contact" | "x" | "y" | "z" | "force x" | "force y" | "force z")
#ifndef GAITSHELF_SOLVER_MEASURE_COLUMN_LABEL_H_
#define GAITSHELF_SOLVER_MEASURE_COLUMN_LABEL_H_

#include <string>
#include <vector>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/trial.pb.h"

#include "absl/status/statusor.h"

namespace gaitshelf::solver {

// Names that labels may begin with.
struct TrialParts {
  std::vector<std::string> leg_names;
  std::vector<std::string> foot_names;  // legs' feet, then body feet
};

TrialParts PartsOf(const v1::Robot& robot);

// Returns the column of a label: quantity, part, axis and factor to SI.
//
// Errors:
//   kInvalidArgument   the label cannot be read; the message says what is wrong and what to write
absl::StatusOr<v1::TrialColumn> ReadColumnLabel(const std::string& label, const TrialParts& parts);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_MEASURE_COLUMN_LABEL_H_
