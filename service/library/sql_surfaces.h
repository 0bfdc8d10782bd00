// The further surfaces of gaits and jobs that are for several, in tables of their own.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQL_SURFACES_H_
#define GAITSHELF_SERVICE_LIBRARY_SQL_SURFACES_H_

#include <cstdint>
#include <vector>

#include "gaitshelf/v1/gait.pb.h"

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/library/sql_connection.h"

namespace gaitshelf::service {

// Write the further surfaces of a row that is new.
absl::Status WriteGaitSurfaces(SqlConnection* connection,
                               std::int64_t gait_id,
                               const std::vector<v1::SurfaceVersion>& surfaces);
absl::Status WriteJobSurfaces(SqlConnection* connection,
                              std::int64_t job_id,
                              const std::vector<v1::SurfaceVersion>& surfaces);

// Returns the further surfaces of a job by name; none for a job of one surface.
absl::StatusOr<std::vector<v1::SurfaceVersion>> ReadJobSurfaces(SqlConnection* connection,
                                                                std::int64_t job_id);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQL_SURFACES_H_
