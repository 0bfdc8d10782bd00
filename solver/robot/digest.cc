// Every digest is SHA-256 over a first line, which names what is digested and the version of its
// layout, and then the canonical text (canonical.h).
#include "solver/robot/digest.h"

#include <algorithm>
#include <cmath>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "solver/robot/canonical.h"

namespace gaitshelf::solver {

std::string RobotDigest(const v1::Robot& robot) {
  return Sha256Hex(absl::StrCat("gaitshelf robot 1\n", CanonicalText(robot, {"name", "title"})));
}

std::string SurfaceDigest(const v1::Surface& surface) {
  return Sha256Hex(
      absl::StrCat("gaitshelf surface 1\n",
                   CanonicalText(surface, {"name", "title", "friction_method", "measured_on"})));
}

std::string GaitName(const v1::Gait& gait) {
  v1::Gait named = gait;
  named.mutable_report()->clear_solve_s();
  const std::string digest = Sha256Hex(
      absl::StrCat("gaitshelf gait 1\n", CanonicalText(named, {"name", "audit", "provenance"})));
  return absl::StrCat("g-", digest.substr(0, 32));
}

std::string OrderKey(const std::string& robot_digest,
                     const std::string& surface_digest,
                     const v1::GaitOrder& order,
                     const std::vector<std::string>& also_on_digests) {
  // What a default stands for is the same order.
  const v1::Objective objective = order.objective() == v1::OBJECTIVE_UNSPECIFIED
                                      ? v1::OBJECTIVE_LEAST_EFFORT
                                      : order.objective();
  std::vector<std::string> surfaces = also_on_digests;
  surfaces.push_back(surface_digest);
  std::sort(surfaces.begin(), surfaces.end());
  return Sha256Hex(absl::StrCat("gaitshelf order 1\nrobot=",
                                robot_digest,
                                "\nsurface=",
                                absl::StrJoin(surfaces, ","),
                                "\nstride_frequency_mhz=",
                                std::llround(order.stride_frequency_hz() * 1000.0),
                                "\nobjective=",
                                static_cast<int>(objective),
                                "\n",
                                CanonicalText(order.task(), {})));
}

}  // namespace gaitshelf::solver
