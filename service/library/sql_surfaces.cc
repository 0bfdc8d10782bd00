#include "service/library/sql_surfaces.h"

#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// `owner` is what has the surfaces: "gait" or "job".
absl::Status WriteSurfaces(SqlConnection* connection,
                           const char* owner,
                           std::int64_t id,
                           const std::vector<v1::SurfaceVersion>& surfaces) {
  const std::string insert_sql = absl::StrCat("INSERT INTO ",
                                              owner,
                                              "_surfaces (",
                                              owner,
                                              "_id, surface, surface_digest) VALUES (?1, ?2, ?3)");
  for (const v1::SurfaceVersion& surface : surfaces) {
    GAITSHELF_ASSIGN_OR_RETURN(SqlStatement insert, connection->Prepare(insert_sql));
    insert.BindInteger(id).BindText(surface.surface()).BindText(surface.digest());
    GAITSHELF_RETURN_IF_ERROR(insert.Run().status());
  }
  return absl::OkStatus();
}

}  // namespace

absl::Status WriteGaitSurfaces(SqlConnection* connection,
                               std::int64_t gait_id,
                               const std::vector<v1::SurfaceVersion>& surfaces) {
  return WriteSurfaces(connection, "gait", gait_id, surfaces);
}

absl::Status WriteJobSurfaces(SqlConnection* connection,
                              std::int64_t job_id,
                              const std::vector<v1::SurfaceVersion>& surfaces) {
  return WriteSurfaces(connection, "job", job_id, surfaces);
}

absl::StatusOr<std::vector<v1::SurfaceVersion>> ReadJobSurfaces(SqlConnection* connection,
                                                                std::int64_t job_id) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement query,
      connection->Prepare("SELECT surface, surface_digest FROM job_surfaces WHERE job_id = ?1 "
                          "ORDER BY surface"));
  std::vector<v1::SurfaceVersion> surfaces;
  GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.BindInteger(job_id).Step());
  while (has_row) {
    v1::SurfaceVersion& surface = surfaces.emplace_back();
    surface.set_surface(query.Bytes(0));
    surface.set_digest(query.Bytes(1));
    GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
  }
  return surfaces;
}

}  // namespace gaitshelf::service
