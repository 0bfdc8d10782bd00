// The bytes of gaits: read from their table and checked, and kept in memory.
#include <cstddef>
#include <cstdint>
#include <functional>
#include <limits>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "service/library/checksum.h"
#include "service/library/sql_store.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// Names that are asked for at a time.
constexpr int kNameCount = 1000;

struct Named {
  std::int64_t id = 0;
  std::string name{};
};

absl::Status CheckBody(const std::string& name,
                       const std::string& body,
                       const std::string& stored_checksum) {
  GAITSHELF_ASSIGN_OR_RETURN(const std::string checksum, Sha256(body));
  if (checksum != stored_checksum) {
    return absl::DataLossError(absl::StrCat("gait '",
                                            name,
                                            "' is damaged: its stored bytes do not match their "
                                            "checksum; order it again or go back to a backup"));
  }
  return absl::OkStatus();
}

// Finds columns of a gait's body; they are empty when the body is not there.
absl::StatusOr<SqlStatement> FindBody(SqlConnection* connection,
                                      const std::string& name,
                                      const char* columns) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement query,
      connection->Prepare(absl::StrCat("SELECT ",
                                       columns,
                                       " FROM gaits AS g LEFT JOIN gait_bodies AS b ON b.gait_id = "
                                       "g.id WHERE g.name = ?1")));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.BindText(name).Step());
  if (!has_row) {
    return NoGait(name);
  }
  return query;
}

// The next names of gaits that are not retired, newest first.
absl::StatusOr<std::vector<Named>> ListNames(SqlConnection* connection, std::int64_t below_id) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement query,
      connection->Prepare("SELECT g.id, g.name FROM gaits AS g WHERE g.id < ?1 AND NOT EXISTS "
                          "(SELECT 1 FROM retirements WHERE gait_id = g.id) "
                          "ORDER BY g.id DESC LIMIT ?2"));
  query.BindInteger(below_id).BindInteger(kNameCount);
  std::vector<Named> names;
  GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.Step());
  while (has_row) {
    names.push_back({.id = query.Integer(0), .name = query.Bytes(1)});
    GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
  }
  return names;
}

}  // namespace

absl::Status NoGait(const std::string& name) {
  return absl::NotFoundError(
      absl::StrCat("gait '", name, "' is not in the library; list what is there"));
}

absl::StatusOr<SharedBytes> SqlStore::GetGaitBytes(const std::string& name) {
  // Before anything is read: what is changed meanwhile is news then.
  const std::optional<std::uint64_t> news = GaitNews(name);
  const std::optional<KeptGait> kept = gait_cache_.Get(name);
  if (kept.has_value() && ((news.has_value() && news == kept->news) || !storage_->is_reachable())) {
    return kept->body;
  }
  absl::StatusOr<KeptGait> read = ReadGait(name, kept);
  if (kept.has_value() && absl::IsUnavailable(read.status())) {
    return kept->body;
  }
  GAITSHELF_RETURN_IF_ERROR(read.status());
  read->news = news;
  gait_cache_.Put(name, *read);
  return read->body;
}

absl::StatusOr<KeptGait> SqlStore::ReadGait(const std::string& name,
                                            const std::optional<KeptGait>& kept) {
  GAITSHELF_ASSIGN_OR_RETURN(
      KeptGait gait, Read([&](SqlConnection* connection) -> absl::StatusOr<KeptGait> {
        if (kept.has_value()) {
          GAITSHELF_ASSIGN_OR_RETURN(const SqlStatement sum,
                                     FindBody(connection, name, "b.sha256"));
          if (sum.Bytes(0) == kept->checksum) {
            return *kept;
          }
        }
        GAITSHELF_ASSIGN_OR_RETURN(const SqlStatement found,
                                   FindBody(connection, name, "b.body, b.sha256"));
        return KeptGait{.body = std::make_shared<const std::string>(found.Bytes(0)),
                        .checksum = found.Bytes(1)};
      }));
  if (!kept.has_value() || gait.body != kept->body) {
    // Outside the read, so that nobody waits for the sum.
    GAITSHELF_RETURN_IF_ERROR(CheckBody(name, *gait.body, gait.checksum));
  }
  return gait;
}

absl::StatusOr<bool> SqlStore::KeepIfRoom(const std::string& name) {
  if (gait_cache_.Has(name)) {
    return true;
  }
  const std::optional<std::uint64_t> news = GaitNews(name);
  absl::StatusOr<KeptGait> read = ReadGait(name, std::nullopt);
  if (absl::IsNotFound(read.status()) || absl::IsDataLoss(read.status())) {
    return true;  // Who asks for it is told.
  }
  GAITSHELF_RETURN_IF_ERROR(read.status());
  read->news = news;
  return gait_cache_.PutIfRoom(name, *read);
}

absl::StatusOr<GaitsInMemory> SqlStore::LoadGaits(const std::function<bool()>& is_stopped) {
  std::vector<Named> names;
  std::int64_t below_id = std::numeric_limits<std::int64_t>::max();
  bool has_room = true;
  do {
    GAITSHELF_ASSIGN_OR_RETURN(
        names, Read([&](SqlConnection* connection) { return ListNames(connection, below_id); }));
    for (std::size_t i = 0; i < names.size() && has_room && !is_stopped(); ++i) {
      GAITSHELF_ASSIGN_OR_RETURN(has_room, KeepIfRoom(names[i].name));
      below_id = names[i].id;
    }
  } while (!names.empty() && has_room && !is_stopped());
  const GaitCache::Filling filling = gait_cache_.filling();
  return GaitsInMemory{.gait_count = static_cast<std::int64_t>(filling.gait_count),
                       .byte_count = static_cast<std::int64_t>(filling.byte_count),
                       .is_full = !has_room};
}

absl::Status SqlStore::CheckGaitBodies() {
  using Names = std::vector<std::string>;
  GAITSHELF_ASSIGN_OR_RETURN(
      const Names names, Read([](SqlConnection* connection) -> absl::StatusOr<Names> {
        GAITSHELF_ASSIGN_OR_RETURN(SqlStatement query,
                                   connection->Prepare("SELECT name FROM gaits ORDER BY id"));
        Names all;
        GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.Step());
        while (has_row) {
          all.push_back(query.Bytes(0));
          GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
        }
        return all;
      }));
  std::string faults;
  for (const std::string& name : names) {
    // What is kept in memory says nothing of the storage.
    const absl::Status status = ReadGait(name, std::nullopt).status();
    if (absl::IsDataLoss(status)) {
      absl::StrAppend(&faults, faults.empty() ? "" : "; ", status.message());
    } else if (!status.ok()) {
      return status;
    }
  }
  return faults.empty() ? absl::OkStatus() : absl::DataLossError(faults);
}

}  // namespace gaitshelf::service
