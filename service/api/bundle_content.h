// What the entries of a bundle say: gathered from the library for an export, checked for an import.
#ifndef GAITSHELF_SERVICE_API_BUNDLE_CONTENT_H_
#define GAITSHELF_SERVICE_API_BUNDLE_CONTENT_H_

#include <set>
#include <string>

#include "gaitshelf/v1/care_service.pb.h"

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/library/bundle_file.h"
#include "service/library/library.h"

namespace gaitshelf::service {

// Writes the gaits that the request names, each after the descriptions that it was solved for, and
// finishes the bundle.
//
// Errors:
//   kInvalidArgument   names and other conditions are given together
//   kNotFound          a gait that was named is not there
//   kDataLoss          a stored gait is damaged
absl::Status GatherBundle(Library* library,
                          const v1::ExportBundleRequest& request,
                          BundleWriter* writer);

// Turns entries into what the library takes. The entries of one bundle go through one checker: a
// gait must come after the descriptions that it was solved for.
class BundleChecker {
 public:
  // Errors:
  //   kInvalidArgument   a description breaks a rule, a gait is not its name's or no trajectory
  absl::StatusOr<BundleItem> Check(const v1::BundleEntry& entry);

 private:
  absl::StatusOr<BundleItem> CheckGait(const std::string& bytes);

  std::set<std::string> robot_digests_;
  std::set<std::string> surface_digests_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_BUNDLE_CONTENT_H_
