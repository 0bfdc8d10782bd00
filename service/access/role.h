// What members may do: three roles, each of which may all that the one before may, and the one
// table that says which role a call takes.
#ifndef GAITSHELF_SERVICE_ACCESS_ROLE_H_
#define GAITSHELF_SERVICE_ACCESS_ROLE_H_

#include <optional>

#include "absl/strings/string_view.h"

namespace gaitshelf::service {

enum class Role {
  kReader,   // looks: finds, reads, exports, checks, analyses
  kPlanner,  // works: stores descriptions and trials, orders, cancels, plays
  kKeeper,   // looks after the library: imports, retires, tidies, backs up
};

// "reader", "planner" or "keeper".
absl::string_view RoleName(Role role);
// Absent for any other name.
std::optional<Role> ParseRole(absl::string_view name);

// Returns the least role that may make a call, named as on the wire: "/package.Service/Call".
// Absent for a call that is not in the table: nobody may make that.
std::optional<Role> NeededRole(absl::string_view method);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_ACCESS_ROLE_H_
