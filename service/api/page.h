// Checks what lists take.
#ifndef GAITSHELF_SERVICE_API_PAGE_H_
#define GAITSHELF_SERVICE_API_PAGE_H_

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "service/api/status.h"

namespace gaitshelf::service {

inline absl::Status CheckPageSize(int page_size) {
  if (page_size >= 0 && page_size <= 1000) {
    return absl::OkStatus();
  }
  v1::FieldViolation violation;
  violation.set_field("page_size");
  violation.set_value(absl::StrCat(page_size));
  violation.set_problem("must be 1 to 1000, or 0 for 100");
  violation.set_mend("ask for fewer and follow next_page_token");
  return InvalidRequest({violation});
}

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_PAGE_H_
