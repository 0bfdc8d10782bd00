// From an order's names to the key of the library.
#ifndef GAITSHELF_SERVICE_API_RESOLVE_ORDER_H_
#define GAITSHELF_SERVICE_API_RESOLVE_ORDER_H_

#include <string>
#include <vector>

#include "gaitshelf/v1/task.pb.h"

#include "absl/status/statusor.h"
#include "service/library/library.h"

namespace gaitshelf::service {

// Which versions of robot and surface an order is for; empty means the current one.
struct OrderVersions {
  std::string robot_digest{};
  std::string surface_digest{};
  // For each of the order's further surfaces; none means the current ones.
  std::vector<std::string> also_on_digests{};
};

// Checks an order and looks up its robot and surfaces. Of several surfaces the one of least
// friction is put first and the others are sorted by name. The requester is left empty.
//
// Errors:
//   kInvalidArgument   the order breaks a rule; every fault rides in google.rpc.BadRequest
//   kNotFound          unknown robot, surface or gait of a transition
absl::StatusOr<JobOrder> ResolveOrder(Library* library,
                                      const v1::GaitOrder& order,
                                      const OrderVersions& versions = {});

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_RESOLVE_ORDER_H_
