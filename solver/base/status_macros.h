// Two macros that hand an error on to the caller.
#ifndef GAITSHELF_SOLVER_BASE_STATUS_MACROS_H_
#define GAITSHELF_SOLVER_BASE_STATUS_MACROS_H_

#include <utility>

#include "absl/status/status.h"
#include "absl/status/statusor.h"

#define GAITSHELF_JOIN_INNER(a, b) a##b
#define GAITSHELF_JOIN(a, b) GAITSHELF_JOIN_INNER(a, b)

// Returns from the enclosing function when the expression is not OK.
#define GAITSHELF_RETURN_IF_ERROR(expression)           \
  do {                                                  \
    const absl::Status gaitshelf_status = (expression); \
    if (!gaitshelf_status.ok()) {                       \
      return gaitshelf_status;                          \
    }                                                   \
  } while (false)

// Declares or sets `target` from a StatusOr, or returns its error from the enclosing function.
#define GAITSHELF_ASSIGN_OR_RETURN(target, expression) \
  GAITSHELF_ASSIGN_OR_RETURN_INNER(GAITSHELF_JOIN(gaitshelf_result_, __LINE__), target, expression)
#define GAITSHELF_ASSIGN_OR_RETURN_INNER(result, target, expression) \
  auto result = (expression);                                        \
  if (!result.ok()) {                                                \
    return result.status();                                          \
  }                                                                  \
  target = std::move(result).value()

#endif  // GAITSHELF_SOLVER_BASE_STATUS_MACROS_H_
