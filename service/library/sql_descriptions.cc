// Robots and surfaces in the library's tables. Both live in one table, told apart by a kind.
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/library/checksum.h"
#include "service/library/sql_changes.h"
#include "service/library/sql_store.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// What differs between the two kinds. Numbers are stored: never change them.
struct RobotKind {
  using Description = v1::Robot;
  using Stored = v1::StoredRobot;
  static constexpr int kNumber = 1;
  static constexpr char kWord[] = "robot";
  static constexpr v1::ChangeKind kChange = v1::CHANGE_KIND_PUT_ROBOT;
  static Description* Body(Stored* stored) { return stored->mutable_robot(); }
};

struct SurfaceKind {
  using Description = v1::Surface;
  using Stored = v1::StoredSurface;
  static constexpr int kNumber = 2;
  static constexpr char kWord[] = "surface";
  static constexpr v1::ChangeKind kChange = v1::CHANGE_KIND_PUT_SURFACE;
  static Description* Body(Stored* stored) { return stored->mutable_surface(); }
};

// Reads the columns version, digest, create_us, body.
template <typename Kind>
absl::StatusOr<typename Kind::Stored> ReadRow(const SqlStatement& row) {
  typename Kind::Stored stored;
  stored.set_version(static_cast<int>(row.Integer(0)));
  stored.set_digest(row.Bytes(1));
  *stored.mutable_create_time() = TimestampOf(row.Integer(2));
  if (!Kind::Body(&stored)->ParseFromString(row.Bytes(3))) {
    return absl::DataLossError(absl::StrCat(
        "stored ", Kind::kWord, " with digest ", stored.digest(), " cannot be read back"));
  }
  return stored;
}

template <typename Kind>
absl::StatusOr<typename Kind::Stored> Get(SqlConnection* connection,
                                          const std::string& name,
                                          const std::string& digest) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement query,
      connection->Prepare("SELECT version, digest, create_us, body FROM descriptions "
                          "WHERE kind = ?1 AND name = ?2 AND (?3 = '' OR digest = ?3) "
                          "ORDER BY version DESC LIMIT 1"));
  query.BindInteger(Kind::kNumber).BindText(name).BindText(digest);
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.Step());
  if (!has_row) {
    return absl::NotFoundError(
        absl::StrCat(Kind::kWord,
                     " '",
                     name,
                     "' is not in the library",
                     digest.empty() ? "" : absl::StrCat(" with digest ", digest),
                     "; put it there first, or list what is there"));
  }
  return ReadRow<Kind>(query);
}

template <typename Kind>
absl::Status InsertVersion(SqlConnection* connection,
                           const std::string& name,
                           const std::string& body,
                           typename Kind::Stored* stored) {
  const std::int64_t now_us = NowUs();
  *stored->mutable_create_time() = TimestampOf(now_us);
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement insert,
      connection->Prepare("INSERT INTO descriptions (kind, name, version, digest, create_us, body) "
                          "VALUES (?1, ?2, ?3, ?4, ?5, ?6)"));
  insert.BindInteger(Kind::kNumber).BindText(name).BindInteger(stored->version());
  insert.BindText(stored->digest()).BindInteger(now_us).BindBytes(body);
  return insert.Run().status();
}

template <typename Kind>
absl::Status UpdateBody(SqlConnection* connection,
                        const std::string& name,
                        int version,
                        const std::string& body) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement update,
      connection->Prepare(
          "UPDATE descriptions SET body = ?1 WHERE kind = ?2 AND name = ?3 AND version = ?4"));
  update.BindBytes(body).BindInteger(Kind::kNumber).BindText(name).BindInteger(version);
  return update.Run().status();
}

// Returns what is stored now, and whether that is a new version. Part of a transaction.
template <typename Kind>
absl::StatusOr<std::pair<typename Kind::Stored, bool>> Put(
    SqlConnection* connection,
    const typename Kind::Description& description,
    const std::string& digest,
    const std::string& requester) {
  const std::string& name = description.name();
  if (name.empty() || digest.empty()) {
    return absl::InvalidArgumentError(
        absl::StrCat("a ", Kind::kWord, " needs a name and a digest to be stored"));
  }
  const std::string body = description.SerializeAsString();
  absl::StatusOr<typename Kind::Stored> current = Get<Kind>(connection, name, "");
  if (!current.ok() && !absl::IsNotFound(current.status())) {
    return current.status();
  }
  const bool is_new_version = !current.ok() || current->digest() != digest;
  typename Kind::Stored stored;
  if (is_new_version) {
    stored.set_version(current.ok() ? current->version() + 1 : 1);
    stored.set_digest(digest);
    GAITSHELF_RETURN_IF_ERROR(InsertVersion<Kind>(connection, name, body, &stored));
    GAITSHELF_RETURN_IF_ERROR(AddChange(connection,
                                        {.requester = requester,
                                         .kind = Kind::kChange,
                                         .subject = name,
                                         .detail = absl::StrCat("version ", stored.version())}));
  } else {
    stored = *current;
    if (Kind::Body(&stored)->SerializeAsString() != body) {
      GAITSHELF_RETURN_IF_ERROR(UpdateBody<Kind>(connection, name, stored.version(), body));
      GAITSHELF_RETURN_IF_ERROR(
          AddChange(connection,
                    {.requester = requester,
                     .kind = Kind::kChange,
                     .subject = name,
                     .detail = absl::StrCat("title and the like of version ", stored.version())}));
    }
  }
  *Kind::Body(&stored) = description;
  return std::make_pair(std::move(stored), is_new_version);
}

// Stores a version that came from elsewhere; returns whether it is new. See Library::ImportBundle
// for its number.
template <typename Kind>
absl::StatusOr<bool> Import(SqlConnection* connection,
                            const typename Kind::Description& description,
                            const std::string& digest) {
  if (description.name().empty() || digest.empty()) {
    return absl::InvalidArgumentError(
        absl::StrCat("a ", Kind::kWord, " needs a name and a digest to be stored"));
  }
  const absl::Status found = Get<Kind>(connection, description.name(), digest).status();
  if (!absl::IsNotFound(found)) {
    return found.ok() ? absl::StatusOr<bool>(false) : found;
  }
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement query,
      connection->Prepare(
          "SELECT coalesce(min(version) - 1, 1) FROM descriptions WHERE kind = ?1 AND name = ?2"));
  GAITSHELF_RETURN_IF_ERROR(
      query.BindInteger(Kind::kNumber).BindText(description.name()).Step().status());
  typename Kind::Stored stored;
  stored.set_version(static_cast<int>(query.Integer(0)));
  stored.set_digest(digest);
  GAITSHELF_RETURN_IF_ERROR(InsertVersion<Kind>(
      connection, description.name(), description.SerializeAsString(), &stored));
  return true;
}

template <typename Kind>
absl::StatusOr<std::vector<typename Kind::Stored>> List(SqlConnection* connection) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement query,
      connection->Prepare("SELECT version, digest, create_us, body FROM descriptions AS d "
                          "WHERE kind = ?1 AND version = (SELECT max(version) FROM descriptions "
                          "WHERE kind = d.kind AND name = d.name) ORDER BY name"));
  query.BindInteger(Kind::kNumber);
  std::vector<typename Kind::Stored> all;
  GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.Step());
  while (has_row) {
    GAITSHELF_ASSIGN_OR_RETURN(all.emplace_back(), ReadRow<Kind>(query));
    GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
  }
  return all;
}

}  // namespace

absl::StatusOr<bool> ImportRobotVersion(SqlConnection* connection,
                                        const v1::Robot& robot,
                                        const std::string& digest) {
  return Import<RobotKind>(connection, robot, digest);
}

absl::StatusOr<bool> ImportSurfaceVersion(SqlConnection* connection,
                                          const v1::Surface& surface,
                                          const std::string& digest) {
  return Import<SurfaceKind>(connection, surface, digest);
}

absl::StatusOr<PutRobotResult> SqlStore::PutRobot(const v1::Robot& robot,
                                                  const std::string& digest,
                                                  const std::string& requester) {
  return Write(
      WriteScope::kLibrary, [&](SqlConnection* connection) -> absl::StatusOr<PutRobotResult> {
        GAITSHELF_ASSIGN_OR_RETURN(auto put, Put<RobotKind>(connection, robot, digest, requester));
        return PutRobotResult{.stored = std::move(put.first), .is_new_version = put.second};
      });
}

absl::StatusOr<PutSurfaceResult> SqlStore::PutSurface(const v1::Surface& surface,
                                                      const std::string& digest,
                                                      const std::string& requester) {
  return Write(
      WriteScope::kLibrary, [&](SqlConnection* connection) -> absl::StatusOr<PutSurfaceResult> {
        GAITSHELF_ASSIGN_OR_RETURN(auto put,
                                   Put<SurfaceKind>(connection, surface, digest, requester));
        return PutSurfaceResult{.stored = std::move(put.first), .is_new_version = put.second};
      });
}

absl::StatusOr<v1::StoredRobot> SqlStore::GetRobot(const std::string& name,
                                                   const std::string& digest) {
  return Read([&](SqlConnection* connection) { return Get<RobotKind>(connection, name, digest); });
}

absl::StatusOr<v1::StoredSurface> SqlStore::GetSurface(const std::string& name,
                                                       const std::string& digest) {
  return Read(
      [&](SqlConnection* connection) { return Get<SurfaceKind>(connection, name, digest); });
}

absl::StatusOr<std::vector<v1::StoredRobot>> SqlStore::ListRobots() {
  return Read([](SqlConnection* connection) { return List<RobotKind>(connection); });
}

absl::StatusOr<std::vector<v1::StoredSurface>> SqlStore::ListSurfaces() {
  return Read([](SqlConnection* connection) { return List<SurfaceKind>(connection); });
}

absl::Status SqlStore::PutLegTables(const std::string& robot_digest, const v1::LegTables& tables) {
  if (robot_digest.empty()) {
    return absl::InvalidArgumentError("leg tables need the digest of their robot to be stored");
  }
  const std::string body = tables.SerializeAsString();
  GAITSHELF_ASSIGN_OR_RETURN(const std::string sum, Sha256(body));
  return Write(WriteScope::kRows, [&](SqlConnection* connection) -> absl::Status {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement put,
        connection->Prepare("INSERT INTO leg_tables (robot_digest, sha256, body) VALUES (?1, ?2, "
                            "?3) ON CONFLICT (robot_digest) DO UPDATE SET sha256 = ?2, body = ?3"));
    return put.BindText(robot_digest).BindBytes(sum).BindBytes(body).Run().status();
  });
}

absl::StatusOr<v1::LegTables> SqlStore::GetLegTables(const std::string& robot_digest) {
  return Read([&](SqlConnection* connection) -> absl::StatusOr<v1::LegTables> {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement query,
        connection->Prepare("SELECT body, sha256 FROM leg_tables WHERE robot_digest = ?1"));
    GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.BindText(robot_digest).Step());
    if (!has_row) {
      return absl::NotFoundError(
          absl::StrCat("no leg tables are kept for a robot with digest ", robot_digest));
    }
    const std::string body = query.Bytes(0);
    GAITSHELF_ASSIGN_OR_RETURN(const std::string sum, Sha256(body));
    v1::LegTables tables;
    if (sum != query.Bytes(1) || !tables.ParseFromString(body)) {
      return absl::DataLossError(
          absl::StrCat("the leg tables of the robot with digest ", robot_digest, " are damaged"));
    }
    return tables;
  });
}

}  // namespace gaitshelf::service
