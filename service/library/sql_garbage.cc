// Removal of what nothing needs any more from the library's tables.
#include <cstdint>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "service/library/sql_changes.h"
#include "service/library/sql_counts.h"
#include "service/library/sql_store.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

absl::Status RemoveRetiredGaits(SqlConnection* connection,
                                std::int64_t retired_before_us,
                                v1::CollectGarbageResponse* result) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement query,
      connection->Prepare("SELECT g.name FROM retirements AS r JOIN gaits AS g ON g.id = r.gait_id "
                          "WHERE r.retire_us < ?1 AND NOT EXISTS (SELECT 1 FROM trials WHERE "
                          "trials.gait = g.name) ORDER BY g.id"));
  GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.BindInteger(retired_before_us).Step());
  while (has_row) {
    result->add_gaits(query.Bytes(0));
    GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
  }
  for (const std::string& name : result->gaits()) {
    // What refers to the row goes first.
    for (const char* sql :
         {"DELETE FROM retirements WHERE gait_id = (SELECT id FROM gaits WHERE name = ?1)",
          "DELETE FROM gait_surfaces WHERE gait_id = (SELECT id FROM gaits WHERE name = ?1)",
          "DELETE FROM gait_bodies WHERE gait_id = (SELECT id FROM gaits WHERE name = ?1)",
          "DELETE FROM gaits WHERE name = ?1"}) {
      GAITSHELF_ASSIGN_OR_RETURN(SqlStatement remove, connection->Prepare(sql));
      GAITSHELF_RETURN_IF_ERROR(remove.BindText(name).Run().status());
    }
    GAITSHELF_RETURN_IF_ERROR(connection->Announce(name));
  }
  return CountRows(connection, kGaitRows, -result->gaits_size());
}

// Kind 1 is a robot, kind 2 a surface; states 1 and 2 are open jobs.
constexpr char kUnreferenced[] =
    "SELECT kind, name, version, digest FROM descriptions AS d WHERE version < "
    "(SELECT max(version) FROM descriptions WHERE kind = d.kind AND name = d.name) "
    "AND NOT EXISTS (SELECT 1 FROM gaits WHERE CASE d.kind WHEN 1 THEN robot = d.name AND "
    "robot_digest = d.digest ELSE surface = d.name AND surface_digest = d.digest END) "
    "AND NOT EXISTS (SELECT 1 FROM jobs WHERE state IN (1, 2) AND "
    "CASE d.kind WHEN 1 THEN robot_digest ELSE surface_digest END = d.digest) "
    "AND NOT EXISTS (SELECT 1 FROM gait_surfaces AS s WHERE d.kind = 2 AND s.surface = d.name AND "
    "s.surface_digest = d.digest) "
    "AND NOT EXISTS (SELECT 1 FROM job_surfaces AS s JOIN jobs AS j ON j.id = s.job_id WHERE "
    "d.kind = 2 AND j.state IN (1, 2) AND s.surface_digest = d.digest) "
    "ORDER BY kind, name, version";

// Adds the digests of descriptions that rows of a table of messages name.
template <typename Message, typename AddDigests>
absl::Status ReadDigests(SqlConnection* connection,
                         const std::string& table,
                         const AddDigests& add_digests) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement query,
      connection->Prepare(absl::StrCat("SELECT name, body FROM ", table, " ORDER BY id")));
  GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.Step());
  while (has_row) {
    Message message;
    if (!message.ParseFromString(query.Bytes(1))) {
      return absl::DataLossError(
          absl::StrCat(query.Bytes(0), " of ", table, " cannot be read back; nothing was removed"));
    }
    add_digests(message);
    GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
  }
  return absl::OkStatus();
}

// Digests of the robots and surfaces that trials were made with, or that calibrations found.
absl::StatusOr<std::set<std::string>> KeptDigests(SqlConnection* connection) {
  std::set<std::string> digests;
  GAITSHELF_RETURN_IF_ERROR(
      ReadDigests<v1::Trial>(connection, "trials", [&digests](const v1::Trial& trial) {
        digests.insert({trial.robot_digest(), trial.surface_digest()});
      }));
  GAITSHELF_RETURN_IF_ERROR(ReadDigests<v1::Calibration>(
      connection, "calibrations", [&digests](const v1::Calibration& calibration) {
        digests.insert(
            {calibration.calibrated_robot_digest(), calibration.calibrated_surface_digest()});
      }));
  return digests;
}

absl::Status RemoveDescriptions(SqlConnection* connection, v1::CollectGarbageResponse* result) {
  struct Version {
    std::int64_t kind = 0;
    std::string name;
    std::int64_t version = 0;
  };
  std::vector<Version> versions;
  {
    GAITSHELF_ASSIGN_OR_RETURN(const std::set<std::string> kept, KeptDigests(connection));
    GAITSHELF_ASSIGN_OR_RETURN(SqlStatement query, connection->Prepare(kUnreferenced));
    GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.Step());
    while (has_row) {
      if (kept.count(query.Bytes(3)) == 0) {
        versions.push_back({query.Integer(0), query.Bytes(1), query.Integer(2)});
      }
      GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
    }
  }
  for (const Version& version : versions) {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement remove,
        connection->Prepare(
            "DELETE FROM descriptions WHERE kind = ?1 AND name = ?2 AND version = ?3"));
    remove.BindInteger(version.kind).BindText(version.name).BindInteger(version.version);
    GAITSHELF_RETURN_IF_ERROR(remove.Run().status());
    if (version.kind == 1) {
      // The legs that were compiled for it.
      GAITSHELF_RETURN_IF_ERROR(
          connection->Execute("DELETE FROM leg_tables WHERE robot_digest NOT IN (SELECT digest "
                              "FROM descriptions WHERE kind = 1)"));
    }
    result->add_descriptions(absl::StrCat(
        version.kind == 1 ? "robot " : "surface ", version.name, " version ", version.version));
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<v1::CollectGarbageResponse> SqlStore::CollectGarbage(const GarbageOptions& options) {
  v1::CollectGarbageResponse result;
  const absl::Status status = WriteGaits([&](SqlConnection* connection) -> absl::Status {
    result.Clear();
    GAITSHELF_RETURN_IF_ERROR(RemoveRetiredGaits(connection, options.retired_before_us, &result));
    GAITSHELF_RETURN_IF_ERROR(RemoveDescriptions(connection, &result));
    if (options.is_dry_run) {
      return absl::CancelledError("so that nothing is committed");
    }
    if (result.gaits_size() + result.descriptions_size() == 0) {
      return absl::OkStatus();
    }
    return AddChange(connection,
                     {.requester = options.requester,
                      .kind = v1::CHANGE_KIND_COLLECT_GARBAGE,
                      .subject = "",
                      .detail = absl::StrCat(result.gaits_size(),
                                             " gaits, ",
                                             result.descriptions_size(),
                                             " versions of descriptions")});
  });
  if (!status.ok() && !(options.is_dry_run && absl::IsCancelled(status))) {
    return status;
  }
  return result;
}

}  // namespace gaitshelf::service
