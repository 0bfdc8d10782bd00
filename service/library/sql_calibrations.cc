// Calibrations in the library's tables.
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/library/sql_changes.h"
#include "service/library/sql_store.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

absl::StatusOr<v1::Calibration> ReadCalibration(const std::string& bytes) {
  v1::Calibration calibration;
  if (!calibration.ParseFromString(bytes)) {
    return absl::DataLossError("a stored calibration cannot be read back");
  }
  return calibration;
}

absl::StatusOr<std::optional<v1::Calibration>> Find(SqlConnection* connection,
                                                    const std::string& name) {
  GAITSHELF_ASSIGN_OR_RETURN(SqlStatement query,
                             connection->Prepare("SELECT body FROM calibrations WHERE name = ?1"));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.BindText(name).Step());
  if (!has_row) {
    return std::optional<v1::Calibration>();
  }
  GAITSHELF_ASSIGN_OR_RETURN(v1::Calibration calibration, ReadCalibration(query.Bytes(0)));
  return std::optional<v1::Calibration>(std::move(calibration));
}

absl::Status InsertRow(SqlConnection* connection, const v1::Calibration& calibration) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement insert,
      connection->Prepare(
          "INSERT INTO calibrations (name, robot, surface, body) VALUES (?1, ?2, ?3, ?4)"));
  insert.BindText(calibration.name()).BindText(calibration.robot());
  insert.BindText(calibration.surface());
  return insert.BindBytes(calibration.SerializeAsString()).Run().status();
}

absl::Status StoreVersions(SqlConnection* connection, const v1::Calibration& calibration) {
  if (calibration.has_calibrated_robot()) {
    GAITSHELF_RETURN_IF_ERROR(ImportRobotVersion(connection,
                                                 calibration.calibrated_robot(),
                                                 calibration.calibrated_robot_digest())
                                  .status());
  }
  if (calibration.has_calibrated_surface()) {
    GAITSHELF_RETURN_IF_ERROR(ImportSurfaceVersion(connection,
                                                   calibration.calibrated_surface(),
                                                   calibration.calibrated_surface_digest())
                                  .status());
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<InsertedCalibration> SqlStore::InsertCalibration(
    const v1::Calibration& calibration) {
  if (calibration.name().empty()) {
    return absl::InvalidArgumentError("a calibration needs a name to be stored");
  }
  return Write(WriteScope::kLibrary,
               [&](SqlConnection* connection) -> absl::StatusOr<InsertedCalibration> {
                 InsertedCalibration result;
                 GAITSHELF_ASSIGN_OR_RETURN(std::optional<v1::Calibration> known,
                                            Find(connection, calibration.name()));
                 result.is_new = !known.has_value();
                 result.calibration = result.is_new ? calibration : *std::move(known);
                 if (result.is_new) {
                   *result.calibration.mutable_create_time() = TimestampOf(NowUs());
                   GAITSHELF_RETURN_IF_ERROR(InsertRow(connection, result.calibration));
                   GAITSHELF_RETURN_IF_ERROR(StoreVersions(connection, result.calibration));
                   GAITSHELF_RETURN_IF_ERROR(AddChange(connection,
                                                       {.requester = calibration.requester(),
                                                        .kind = v1::CHANGE_KIND_STORE_CALIBRATION,
                                                        .subject = calibration.name(),
                                                        .detail = calibration.robot()}));
                 }
                 return result;
               });
}

absl::StatusOr<v1::Calibration> SqlStore::GetCalibration(const std::string& name) {
  return Read([&](SqlConnection* connection) -> absl::StatusOr<v1::Calibration> {
    GAITSHELF_ASSIGN_OR_RETURN(std::optional<v1::Calibration> found, Find(connection, name));
    if (!found.has_value()) {
      return absl::NotFoundError(
          absl::StrCat("calibration '", name, "' is not in the library; list what is there"));
    }
    return *std::move(found);
  });
}

absl::StatusOr<CalibrationPage> SqlStore::ListCalibrations(const CalibrationFilter& filter,
                                                           const PageRequest& page) {
  GAITSHELF_ASSIGN_OR_RETURN(const PageBounds bounds, ReadPageRequest(page));
  return Read([&](SqlConnection* connection) -> absl::StatusOr<CalibrationPage> {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement query,
        connection->Prepare("SELECT id, body FROM calibrations WHERE (?1 = '' OR robot = ?1) AND "
                            "(?2 = '' OR surface = ?2) AND id < ?3 ORDER BY id DESC LIMIT ?4"));
    query.BindText(filter.robot).BindText(filter.surface);
    // One more than asked for tells whether there is a next page.
    query.BindInteger(bounds.below_id).BindInteger(bounds.size + 1);
    CalibrationPage result;
    std::int64_t last_id = 0;
    GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.Step());
    while (has_row) {
      if (static_cast<std::int64_t>(result.calibrations.size()) == bounds.size) {
        result.next_page_token = absl::StrCat(last_id);
        break;
      }
      last_id = query.Integer(0);
      GAITSHELF_ASSIGN_OR_RETURN(result.calibrations.emplace_back(),
                                 ReadCalibration(query.Bytes(1)));
      GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
    }
    return result;
  });
}

}  // namespace gaitshelf::service
