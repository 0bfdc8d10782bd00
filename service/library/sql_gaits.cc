// Gaits in the library's tables: the list entry and what is searched by in one table, the bytes and
// their checksum in another, which sql_gait_bodies.cc reads.
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/library/checksum.h"
#include "service/library/gait_summary.h"
#include "service/library/sql_changes.h"
#include "service/library/sql_counts.h"
#include "service/library/sql_store.h"
#include "service/library/sql_surfaces.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

absl::string_view VerdictWord(v1::Verdict verdict) {
  switch (verdict) {
    case v1::VERDICT_GOOD:
      return "good";
    case v1::VERDICT_FAILED:
      return "failed";
    default:
      return "not made";
  }
}

// Columns of every query for list entries. Superseded: the present version of the robot or of a
// surface is not the one solved for. Kind 1 is a robot, kind 2 a surface.
constexpr char kSummaryColumns[] =
    "SELECT g.id, g.summary, "
    "g.robot_digest <> coalesce((SELECT digest FROM descriptions WHERE kind = 1 AND name = g.robot "
    "ORDER BY version DESC LIMIT 1), g.robot_digest) OR "
    "g.surface_digest <> coalesce((SELECT digest FROM descriptions WHERE kind = 2 AND name = "
    "g.surface ORDER BY version DESC LIMIT 1), g.surface_digest) OR "
    "EXISTS (SELECT 1 FROM gait_surfaces AS s WHERE s.gait_id = g.id AND s.surface_digest <> "
    "coalesce((SELECT digest FROM descriptions WHERE kind = 2 AND name = s.surface ORDER BY "
    "version DESC LIMIT 1), s.surface_digest)) "
    "FROM gaits AS g ";

absl::StatusOr<v1::GaitSummary> ReadSummary(const SqlStatement& row) {
  v1::GaitSummary summary;
  if (!summary.ParseFromString(row.Bytes(1))) {
    return absl::DataLossError(
        absl::StrCat("list entry of stored gait number ", row.Integer(0), " cannot be read back"));
  }
  summary.set_is_superseded(row.Integer(2) != 0);
  return summary;
}

struct StoredGait {
  std::int64_t id = 0;
  v1::Verdict verdict = v1::VERDICT_UNSPECIFIED;
};

absl::StatusOr<std::optional<StoredGait>> FindStored(SqlConnection* connection,
                                                     const std::string& name) {
  GAITSHELF_ASSIGN_OR_RETURN(SqlStatement query,
                             connection->Prepare("SELECT id, verdict FROM gaits WHERE name = ?1"));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.BindText(name).Step());
  if (!has_row) {
    return std::optional<StoredGait>();
  }
  return std::optional<StoredGait>(
      StoredGait{.id = query.Integer(0), .verdict = static_cast<v1::Verdict>(query.Integer(1))});
}

absl::StatusOr<std::int64_t> InsertRow(SqlConnection* connection,
                                       const v1::Gait& gait,
                                       const std::string& key) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement insert,
      connection->Prepare(
          "INSERT INTO gaits (name, order_key, robot, robot_digest, surface, surface_digest, "
          "verdict, cost_ratio, insert_us, summary) "
          "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10) RETURNING id"));
  insert.BindText(gait.name()).BindText(key);
  insert.BindText(gait.robot()).BindText(gait.robot_digest());
  insert.BindText(gait.surface()).BindText(gait.surface_digest());
  insert.BindInteger(gait.audit().verdict()).BindReal(gait.report().cost_ratio());
  insert.BindInteger(NowUs()).BindBytes(SummarizeGait(gait).SerializeAsString());
  GAITSHELF_RETURN_IF_ERROR(insert.Step().status());
  return insert.Integer(0);
}

absl::Status UpdateRow(SqlConnection* connection, const v1::Gait& gait, std::int64_t id) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement update,
      connection->Prepare("UPDATE gaits SET verdict = ?1, summary = ?2 WHERE id = ?3"));
  update.BindInteger(gait.audit().verdict()).BindBytes(SummarizeGait(gait).SerializeAsString());
  return update.BindInteger(id).Run().status();
}

absl::Status AddGaitChange(SqlConnection* connection, const v1::Gait& gait) {
  return AddChange(
      connection,
      {.requester = gait.provenance().requester(),
       .kind = v1::CHANGE_KIND_STORE_GAIT,
       .subject = gait.name(),
       .detail = absl::StrCat(
           gait.robot(), " on ", gait.surface(), ", audit ", VerdictWord(gait.audit().verdict()))});
}

absl::Status WriteBody(SqlConnection* connection, const v1::Gait& gait, std::int64_t id) {
  const std::string body = gait.SerializeAsString();
  GAITSHELF_ASSIGN_OR_RETURN(const std::string checksum, Sha256(body));
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement insert,
      connection->Prepare("INSERT INTO gait_bodies (gait_id, sha256, body) VALUES (?1, ?2, ?3) ON "
                          "CONFLICT (gait_id) "
                          "DO UPDATE SET sha256 = excluded.sha256, body = excluded.body"));
  return insert.BindInteger(id).BindBytes(checksum).BindBytes(body).Run().status();
}

// A statement with only those conditions that the filter has: then an index serves it.
absl::StatusOr<SqlStatement> PrepareList(SqlConnection* connection,
                                         const GaitFilter& filter,
                                         const PageBounds& bounds) {
  std::string sql = absl::StrCat(kSummaryColumns,
                                 "WHERE NOT EXISTS (SELECT 1 FROM retirements WHERE gait_id = "
                                 "g.id) AND g.id < ?1");
  std::vector<std::string> texts;
  for (const auto& [column, value] :
       {std::pair("g.robot", filter.robot), std::pair("g.surface", filter.surface)}) {
    if (!value.empty()) {
      texts.push_back(value);
      absl::StrAppend(&sql, " AND ", column, " = ?", texts.size() + 1);
    }
  }
  if (filter.only_good) {
    absl::StrAppend(&sql, " AND g.verdict = ", static_cast<int>(v1::VERDICT_GOOD));
  }
  absl::StrAppend(&sql, " ORDER BY g.id DESC LIMIT ?", texts.size() + 2);
  GAITSHELF_ASSIGN_OR_RETURN(SqlStatement query, connection->Prepare(sql));
  query.BindInteger(bounds.below_id);
  for (const std::string& text : texts) {
    query.BindText(text);
  }
  // One more than asked for tells whether there is a next page.
  query.BindInteger(bounds.size + 1);
  return query;
}

}  // namespace

absl::StatusOr<GaitChange> InsertGaitRows(SqlConnection* connection,
                                          const v1::Gait& gait,
                                          const std::string& key) {
  if (gait.name().empty() || key.empty()) {
    return absl::InvalidArgumentError("a gait needs a name and a key to be stored");
  }
  GAITSHELF_ASSIGN_OR_RETURN(const std::optional<StoredGait> stored,
                             FindStored(connection, gait.name()));
  if (!stored.has_value()) {
    GAITSHELF_ASSIGN_OR_RETURN(const std::int64_t id, InsertRow(connection, gait, key));
    GAITSHELF_RETURN_IF_ERROR(
        WriteGaitSurfaces(connection, id, {gait.also_on().begin(), gait.also_on().end()}));
    GAITSHELF_RETURN_IF_ERROR(WriteBody(connection, gait, id));
    return GaitChange::kNew;
  }
  if (gait.audit().verdict() == v1::VERDICT_UNSPECIFIED ||
      gait.audit().verdict() == stored->verdict) {
    return GaitChange::kNone;
  }
  GAITSHELF_RETURN_IF_ERROR(UpdateRow(connection, gait, stored->id));
  GAITSHELF_RETURN_IF_ERROR(WriteBody(connection, gait, stored->id));
  GAITSHELF_RETURN_IF_ERROR(connection->Announce(gait.name()));
  return GaitChange::kVerdict;
}

absl::Status SqlStore::InsertGait(const v1::Gait& gait, const std::string& key) {
  return WriteGaits([&](SqlConnection* connection) -> absl::Status {
    GAITSHELF_ASSIGN_OR_RETURN(const GaitChange change, InsertGaitRows(connection, gait, key));
    if (change == GaitChange::kNew) {
      GAITSHELF_RETURN_IF_ERROR(CountRows(connection, kGaitRows, 1));
    }
    return change == GaitChange::kNone ? absl::OkStatus() : AddGaitChange(connection, gait);
  });
}

absl::StatusOr<v1::GaitSummary> SqlStore::GetGaitSummary(const std::string& name) {
  return Read([&](SqlConnection* connection) -> absl::StatusOr<v1::GaitSummary> {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement query,
        connection->Prepare(absl::StrCat(kSummaryColumns, "WHERE g.name = ?1")));
    GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.BindText(name).Step());
    if (!has_row) {
      return NoGait(name);
    }
    return ReadSummary(query);
  });
}

absl::StatusOr<v1::GaitSummary> SqlStore::FindBestGait(const std::string& key) {
  return Read([&](SqlConnection* connection) -> absl::StatusOr<v1::GaitSummary> {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement query,
        connection->Prepare(absl::StrCat(
            kSummaryColumns,
            "WHERE g.order_key = ?1 AND g.verdict = ?2 AND NOT EXISTS (SELECT 1 FROM retirements "
            "WHERE gait_id = g.id) ORDER BY g.cost_ratio, g.id LIMIT 1")));
    query.BindText(key).BindInteger(v1::VERDICT_GOOD);
    GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.Step());
    if (!has_row) {
      return absl::NotFoundError("the library has no good gait for this order yet; order it");
    }
    return ReadSummary(query);
  });
}

absl::StatusOr<GaitPage> SqlStore::ListGaits(const GaitFilter& filter, const PageRequest& page) {
  GAITSHELF_ASSIGN_OR_RETURN(const PageBounds bounds, ReadPageRequest(page));
  return Read([&](SqlConnection* connection) -> absl::StatusOr<GaitPage> {
    GAITSHELF_ASSIGN_OR_RETURN(SqlStatement query, PrepareList(connection, filter, bounds));
    GaitPage result;
    std::int64_t last_id = 0;
    GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.Step());
    while (has_row) {
      if (static_cast<std::int64_t>(result.gaits.size()) == bounds.size) {
        result.next_page_token = absl::StrCat(last_id);
        break;
      }
      last_id = query.Integer(0);
      GAITSHELF_ASSIGN_OR_RETURN(result.gaits.emplace_back(), ReadSummary(query));
      GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
    }
    return result;
  });
}

}  // namespace gaitshelf::service
