// Digests that name the exact version of a description, and the name of a gait.
//
// Digest = SHA-256 over a canonical form that this project defines (digest.cc) and locks with
// golden tests.
#ifndef GAITSHELF_SOLVER_ROBOT_DIGEST_H_
#define GAITSHELF_SOLVER_ROBOT_DIGEST_H_

#include <string>
#include <vector>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"
#include "gaitshelf/v1/task.pb.h"

namespace gaitshelf::solver {

// Each returns 64 lower-case hexadecimal digits. Names and titles are not part of a description's
// digest.
std::string RobotDigest(const v1::Robot& robot);
std::string SurfaceDigest(const v1::Surface& surface);

// Returns "g-" and 32 hexadecimal digits over the gait without its name, report times, audit and
// provenance.
std::string GaitName(const v1::Gait& gait);

// Returns the library's key of an order: 64 hexadecimal digits over (robot digest, digests of all
// its surfaces whichever comes first, stride frequency at 1 mHz, task, objective). Options are not
// part of it.
std::string OrderKey(const std::string& robot_digest,
                     const std::string& surface_digest,
                     const v1::GaitOrder& order,
                     const std::vector<std::string>& also_on_digests = {});

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_DIGEST_H_
