// Retirement, bundles and the look for room in the library's tables.
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <random>
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

// What is written to find out whether there is room: about as much as a gait takes, under a name
// that no robot's digest has.
constexpr char kProbeName[] = "room for a gait";
constexpr std::size_t kProbeBytes = 256 << 10;

// Bytes that no database can store in fewer.
std::string NoiseOf(std::size_t size) {
  std::mt19937 noise;
  std::string bytes(size, '\0');
  for (char& byte : bytes) {
    byte = static_cast<char>(noise() & 0xFF);
  }
  return bytes;
}

absl::Status PutProbe(SqlConnection* connection, const std::string& bytes) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement insert,
      connection->Prepare("INSERT INTO leg_tables (robot_digest, sha256, body) VALUES (?1, ?2, ?3) "
                          "ON CONFLICT (robot_digest) DO UPDATE SET body = excluded.body"));
  return insert.BindText(kProbeName).BindBytes("").BindBytes(bytes).Run().status();
}

absl::StatusOr<std::int64_t> GaitId(SqlConnection* connection, const std::string& name) {
  GAITSHELF_ASSIGN_OR_RETURN(SqlStatement query,
                             connection->Prepare("SELECT id FROM gaits WHERE name = ?1"));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.BindText(name).Step());
  if (!has_row) {
    return absl::NotFoundError(
        absl::StrCat("gait '", name, "' is not in the library; list what is there"));
  }
  return query.Integer(0);
}

absl::Status ImportGait(SqlConnection* connection,
                        const BundleItem& item,
                        v1::ImportBundleResponse* result) {
  GAITSHELF_ASSIGN_OR_RETURN(const GaitChange change,
                             InsertGaitRows(connection, *item.gait, item.key));
  if (change == GaitChange::kNew) {
    result->set_new_gait_count(result->new_gait_count() + 1);
  } else {
    result->set_known_gait_count(result->known_gait_count() + 1);
  }
  return absl::OkStatus();
}

absl::Status ImportItem(SqlConnection* connection,
                        const BundleItem& item,
                        v1::ImportBundleResponse* result) {
  if (item.gait.has_value()) {
    return ImportGait(connection, item, result);
  }
  if (item.robot.has_value() == item.surface.has_value()) {
    return absl::InvalidArgumentError("an item of a bundle holds a robot, a surface or a gait");
  }
  GAITSHELF_ASSIGN_OR_RETURN(const bool is_new,
                             item.robot.has_value()
                                 ? ImportRobotVersion(connection, *item.robot, item.digest)
                                 : ImportSurfaceVersion(connection, *item.surface, item.digest));
  if (is_new) {
    result->set_new_description_count(result->new_description_count() + 1);
  } else {
    result->set_known_description_count(result->known_description_count() + 1);
  }
  return absl::OkStatus();
}

}  // namespace

absl::Status SqlStore::RetireGait(const Retirement& retirement) {
  return Write(WriteScope::kLibrary, [&](SqlConnection* connection) -> absl::Status {
    GAITSHELF_ASSIGN_OR_RETURN(const std::int64_t id, GaitId(connection, retirement.gait));
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement insert,
        connection->Prepare("INSERT INTO retirements (gait_id, retire_us, requester, reason) "
                            "VALUES (?1, ?2, ?3, ?4) ON CONFLICT (gait_id) DO UPDATE SET "
                            "requester = excluded.requester, reason = excluded.reason"));
    // By a clock that was set back a gait would seem to be retired for long at once.
    GAITSHELF_ASSIGN_OR_RETURN(
        const std::int64_t last_change_us,
        connection->QueryInteger(
            "SELECT coalesce((SELECT time_us FROM changes ORDER BY id DESC LIMIT 1), 0)"));
    insert.BindInteger(id).BindInteger(std::max(NowUs(), last_change_us));
    insert.BindText(retirement.requester).BindText(retirement.reason);
    GAITSHELF_RETURN_IF_ERROR(insert.Run().status());
    return AddChange(connection,
                     {.requester = retirement.requester,
                      .kind = v1::CHANGE_KIND_RETIRE_GAIT,
                      .subject = retirement.gait,
                      .detail = retirement.reason});
  });
}

absl::Status SqlStore::ReinstateGait(const std::string& name, const std::string& requester) {
  return Write(WriteScope::kLibrary, [&](SqlConnection* connection) -> absl::Status {
    GAITSHELF_ASSIGN_OR_RETURN(const std::int64_t id, GaitId(connection, name));
    GAITSHELF_ASSIGN_OR_RETURN(SqlStatement remove,
                               connection->Prepare("DELETE FROM retirements WHERE gait_id = ?1"));
    GAITSHELF_ASSIGN_OR_RETURN(const int removed_count, remove.BindInteger(id).Run());
    if (removed_count == 0) {
      return absl::OkStatus();
    }
    return AddChange(connection,
                     {.requester = requester,
                      .kind = v1::CHANGE_KIND_REINSTATE_GAIT,
                      .subject = name,
                      .detail = ""});
  });
}

absl::StatusOr<std::vector<v1::RetiredGait>> SqlStore::ListRetiredGaits() {
  using Gaits = std::vector<v1::RetiredGait>;
  return Read([](SqlConnection* connection) -> absl::StatusOr<Gaits> {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement query,
        connection->Prepare(
            "SELECT g.name, r.reason, r.requester, r.retire_us FROM retirements AS r "
            "JOIN gaits AS g ON g.id = r.gait_id ORDER BY r.retire_us DESC, g.id DESC"));
    Gaits retired;
    GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.Step());
    while (has_row) {
      v1::RetiredGait& gait = retired.emplace_back();
      gait.set_name(query.Bytes(0));
      gait.set_reason(query.Bytes(1));
      gait.set_requester(query.Bytes(2));
      *gait.mutable_retire_time() = TimestampOf(query.Integer(3));
      GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
    }
    return retired;
  });
}

absl::StatusOr<v1::ImportBundleResponse> SqlStore::ImportBundle(const BundleSource& source,
                                                                const std::string& requester) {
  bool is_begun = false;
  return WriteGaits([&](SqlConnection* connection) -> absl::StatusOr<v1::ImportBundleResponse> {
    if (std::exchange(is_begun, true)) {
      // The source cannot give its items twice.
      return absl::UnavailableError(
          "the library was out of reach during the import and took nothing; import again");
    }
    v1::ImportBundleResponse result;
    while (true) {
      GAITSHELF_ASSIGN_OR_RETURN(const std::optional<BundleItem> item, source());
      if (!item.has_value()) {
        break;
      }
      GAITSHELF_RETURN_IF_ERROR(ImportItem(connection, *item, &result));
    }
    // Once: a row that one transaction changes again and again gets slower to change.
    GAITSHELF_RETURN_IF_ERROR(CountRows(connection, kGaitRows, result.new_gait_count()));
    if (result.new_gait_count() + result.new_description_count() > 0) {
      GAITSHELF_RETURN_IF_ERROR(
          AddChange(connection,
                    {.requester = requester,
                     .kind = v1::CHANGE_KIND_IMPORT_BUNDLE,
                     .subject = "",
                     .detail = absl::StrCat(result.new_gait_count(),
                                            " new gaits, ",
                                            result.new_description_count(),
                                            " new versions of descriptions")}));
    }
    return result;
  });
}

bool SqlStore::IsFull() {
  if (!storage_->is_full()) {
    return false;
  }
  const absl::Status status = Write(WriteScope::kRows, [](SqlConnection* connection) {
    return PutProbe(connection, NoiseOf(kProbeBytes));
  });
  if (!status.ok()) {
    return true;
  }
  storage_->ForgetFull();
  Write(WriteScope::kRows, [](SqlConnection* connection) {
    return connection->Execute(
        absl::StrCat("DELETE FROM leg_tables WHERE robot_digest = '", kProbeName, "'"));
  }).IgnoreError();  // the next probe takes its place, and garbage collection takes it away
  return false;
}

}  // namespace gaitshelf::service
