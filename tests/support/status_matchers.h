// Matchers for absl::Status and absl::StatusOr.
#ifndef GAITSHELF_TESTS_SUPPORT_STATUS_MATCHERS_H_
#define GAITSHELF_TESTS_SUPPORT_STATUS_MATCHERS_H_

#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/status/status.h"
#include "absl/status/statusor.h"

namespace gaitshelf::test {

inline const absl::Status& StatusOf(const absl::Status& status) { return status; }

template <typename T>
const absl::Status& StatusOf(const absl::StatusOr<T>& result) {
  return result.status();
}

MATCHER(IsOk, "is OK") {
  *result_listener << StatusOf(arg).ToString();
  return StatusOf(arg).ok();
}

MATCHER_P2(HasStatus, code, message, "has the status code and a message that matches") {
  *result_listener << StatusOf(arg).ToString();
  return StatusOf(arg).code() == code &&
         testing::ExplainMatchResult(
             message, std::string(StatusOf(arg).message()), result_listener);
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_STATUS_MATCHERS_H_
