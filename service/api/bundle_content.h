// What the entries of a bundle say: gathered from the library for an export, checked for an import.
#ifndef GAITSHELF_SERVICE_API_BUNDLE_CONTENT_H_
#define GAITSHELF_SERVICE_API_BUNDLE_CONTENT_H_

#include <map>
#include <set>
#include <string>
#include <utility>

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
  //   kInvalidArgument   a description breaks a rule, a gait is not its name's, no trajectory or
  //                      not one of its robot
  absl::StatusOr<BundleItem> Check(const v1::BundleEntry& entry);

 private:
  absl::StatusOr<BundleItem> CheckGait(const std::string& bytes);

  // By name and digest: the library finds a gait's descriptions by both.
  std::map<std::pair<std::string, std::string>, v1::Robot> robots_;
  std::set<std::pair<std::string, std::string>> surfaces_;
};

// Takes all of a bundle into the library, or nothing, when it has been read to its end before
// (CheckWholeBundle).
//
// Errors:
//   kInvalidArgument   as by BundleChecker
absl::StatusOr<v1::ImportBundleResponse> TakeBundle(Library* library,
                                                    const BundleReader::Source& source,
                                                    const std::string& requester);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_BUNDLE_CONTENT_H_
