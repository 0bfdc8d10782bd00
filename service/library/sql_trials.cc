// Trials in the library's tables: the description in one table, the samples as they came in
// another, analyses beside them.
#include <utility>

#include "absl/strings/str_cat.h"
#include "service/library/checksum.h"
#include "service/library/sql_changes.h"
#include "service/library/sql_counts.h"
#include "service/library/sql_store.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

absl::Status NoTrial(const std::string& name) {
  return absl::NotFoundError(
      absl::StrCat("trial '", name, "' is not in the library; list what is there"));
}

absl::StatusOr<v1::Trial> ReadTrial(const std::string& bytes) {
  v1::Trial trial;
  if (!trial.ParseFromString(bytes)) {
    return absl::DataLossError("the description of a stored trial cannot be read back");
  }
  return trial;
}

// Number and block count of a trial's row; absent when there is none.
struct TrialRow {
  std::int64_t id = 0;
  int block_count = 0;
  std::string body;
};

absl::StatusOr<std::optional<TrialRow>> FindRow(SqlConnection* connection,
                                                const std::string& name) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement query,
      connection->Prepare("SELECT id, block_count, body FROM trials WHERE name = ?1"));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.BindText(name).Step());
  if (!has_row) {
    return std::optional<TrialRow>();
  }
  return std::optional<TrialRow>(TrialRow{.id = query.Integer(0),
                                          .block_count = static_cast<int>(query.Integer(1)),
                                          .body = query.Bytes(2)});
}

absl::Status InsertBlocks(SqlConnection* connection,
                          std::int64_t id,
                          const std::vector<std::string>& blocks) {
  std::int64_t number = 0;
  for (const std::string& block : blocks) {
    GAITSHELF_ASSIGN_OR_RETURN(const std::string checksum, Sha256(block));
    GAITSHELF_ASSIGN_OR_RETURN(SqlStatement insert,
                               connection->Prepare("INSERT INTO trial_blocks (trial_id, number, "
                                                   "sha256, body) VALUES (?1, ?2, ?3, ?4)"));
    insert.BindInteger(id).BindInteger(number++).BindBytes(checksum).BindBytes(block);
    GAITSHELF_RETURN_IF_ERROR(insert.Run().status());
  }
  return absl::OkStatus();
}

absl::Status InsertRow(SqlConnection* connection,
                       const v1::Trial& trial,
                       const std::vector<std::string>& blocks) {
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement insert,
      connection->Prepare("INSERT INTO trials (name, kind, robot, gait, block_count, body) "
                          "VALUES (?1, ?2, ?3, ?4, ?5, ?6) RETURNING id"));
  insert.BindText(trial.name()).BindInteger(trial.kind());
  insert.BindText(trial.robot()).BindText(trial.gait());
  insert.BindInteger(static_cast<std::int64_t>(blocks.size()));
  GAITSHELF_RETURN_IF_ERROR(insert.BindBytes(trial.SerializeAsString()).Step().status());
  return InsertBlocks(connection, insert.Integer(0), blocks);
}

absl::StatusOr<TrialRow> GetRow(SqlConnection* connection, const std::string& name) {
  GAITSHELF_ASSIGN_OR_RETURN(std::optional<TrialRow> row, FindRow(connection, name));
  if (!row.has_value()) {
    return NoTrial(name);
  }
  return *std::move(row);
}

// A block as it is stored.
struct Block {
  std::string body;
  std::string checksum;
};

absl::StatusOr<Block> ReadBlock(SqlConnection* connection, const std::string& name, int number) {
  GAITSHELF_ASSIGN_OR_RETURN(const TrialRow row, GetRow(connection, name));
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement query,
      connection->Prepare(
          "SELECT body, sha256 FROM trial_blocks WHERE trial_id = ?1 AND number = ?2"));
  GAITSHELF_ASSIGN_OR_RETURN(const bool has_row,
                             query.BindInteger(row.id).BindInteger(number).Step());
  if (!has_row && number >= 0 && number < row.block_count) {
    return absl::DataLossError(
        absl::StrCat("trial '", name, "' is damaged: block ", number, " of its samples is gone"));
  }
  if (!has_row) {
    return absl::NotFoundError(absl::StrCat("trial '", name, "' has no block ", number));
  }
  return Block{.body = query.Bytes(0), .checksum = query.Bytes(1)};
}

}  // namespace

absl::StatusOr<InsertedTrial> SqlStore::InsertTrial(const v1::Trial& trial,
                                                    const std::vector<std::string>& blocks) {
  if (trial.name().empty()) {
    return absl::InvalidArgumentError("a trial needs a name to be stored");
  }
  return Write(WriteScope::kLibrary,
               [&](SqlConnection* connection) -> absl::StatusOr<InsertedTrial> {
                 InsertedTrial result;
                 GAITSHELF_ASSIGN_OR_RETURN(const std::optional<TrialRow> row,
                                            FindRow(connection, trial.name()));
                 if (row.has_value()) {
                   GAITSHELF_ASSIGN_OR_RETURN(result.trial, ReadTrial(row->body));
                   return result;
                 }
                 result.trial = trial;
                 result.is_new = true;
                 *result.trial.mutable_create_time() = TimestampOf(NowUs());
                 GAITSHELF_RETURN_IF_ERROR(InsertRow(connection, result.trial, blocks));
                 GAITSHELF_RETURN_IF_ERROR(CountRows(connection, kTrialRows, 1));
                 GAITSHELF_RETURN_IF_ERROR(AddChange(connection,
                                                     {.requester = trial.requester(),
                                                      .kind = v1::CHANGE_KIND_STORE_TRIAL,
                                                      .subject = trial.name(),
                                                      .detail = trial.robot()}));
                 return result;
               });
}

absl::StatusOr<v1::Trial> SqlStore::GetTrial(const std::string& name) {
  return Read([&](SqlConnection* connection) -> absl::StatusOr<v1::Trial> {
    GAITSHELF_ASSIGN_OR_RETURN(const TrialRow row, GetRow(connection, name));
    return ReadTrial(row.body);
  });
}

absl::StatusOr<int> SqlStore::CountTrialBlocks(const std::string& name) {
  return Read([&](SqlConnection* connection) -> absl::StatusOr<int> {
    GAITSHELF_ASSIGN_OR_RETURN(const TrialRow row, GetRow(connection, name));
    return row.block_count;
  });
}

absl::StatusOr<std::string> SqlStore::GetTrialBlock(const std::string& name, int number) {
  GAITSHELF_ASSIGN_OR_RETURN(Block block, Read([&](SqlConnection* connection) {
                               return ReadBlock(connection, name, number);
                             }));
  GAITSHELF_ASSIGN_OR_RETURN(const std::string checksum, Sha256(block.body));
  if (checksum != block.checksum) {
    return absl::DataLossError(absl::StrCat("trial '",
                                            name,
                                            "' is damaged: block ",
                                            number,
                                            " of its samples does not match its checksum; go back "
                                            "to a backup"));
  }
  return std::move(block.body);
}

absl::StatusOr<TrialPage> SqlStore::ListTrials(const TrialFilter& filter, const PageRequest& page) {
  GAITSHELF_ASSIGN_OR_RETURN(const PageBounds bounds, ReadPageRequest(page));
  return Read([&](SqlConnection* connection) -> absl::StatusOr<TrialPage> {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement query,
        connection->Prepare(
            "SELECT id, body FROM trials WHERE (?1 = '' OR robot = ?1) AND (?2 = '' OR gait = ?2) "
            "AND (?3 = 0 OR kind = ?3) AND id < ?4 ORDER BY id DESC LIMIT ?5"));
    query.BindText(filter.robot).BindText(filter.gait).BindInteger(filter.kind);
    // One more than asked for tells whether there is a next page.
    query.BindInteger(bounds.below_id).BindInteger(bounds.size + 1);
    TrialPage result;
    std::int64_t last_id = 0;
    GAITSHELF_ASSIGN_OR_RETURN(bool has_row, query.Step());
    while (has_row) {
      if (static_cast<std::int64_t>(result.trials.size()) == bounds.size) {
        result.next_page_token = absl::StrCat(last_id);
        break;
      }
      last_id = query.Integer(0);
      GAITSHELF_ASSIGN_OR_RETURN(result.trials.emplace_back(), ReadTrial(query.Bytes(1)));
      GAITSHELF_ASSIGN_OR_RETURN(has_row, query.Step());
    }
    return result;
  });
}

absl::Status SqlStore::PutTrialAnalysis(const v1::TrialAnalysis& analysis) {
  return Write(WriteScope::kRows, [&](SqlConnection* connection) -> absl::Status {
    GAITSHELF_ASSIGN_OR_RETURN(const TrialRow row, GetRow(connection, analysis.trial()));
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement insert,
        connection->Prepare(
            "INSERT INTO trial_analyses (trial_id, analysis_version, options, create_us, body) "
            "VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT (trial_id, analysis_version, options) "
            "DO UPDATE SET create_us = excluded.create_us, body = excluded.body"));
    insert.BindInteger(row.id).BindInteger(analysis.analysis_version());
    insert.BindBytes(analysis.options().SerializeAsString()).BindInteger(NowUs());
    return insert.BindBytes(analysis.SerializeAsString()).Run().status();
  });
}

absl::StatusOr<std::optional<v1::TrialAnalysis>> SqlStore::FindTrialAnalysis(
    const std::string& trial,
    int analysis_version,
    const v1::AnalysisOptions& options) {
  using Found = std::optional<v1::TrialAnalysis>;
  return Read([&](SqlConnection* connection) -> absl::StatusOr<Found> {
    GAITSHELF_ASSIGN_OR_RETURN(
        SqlStatement query,
        connection->Prepare(
            "SELECT a.body FROM trials AS t JOIN trial_analyses AS a ON a.trial_id = t.id "
            "WHERE t.name = ?1 AND a.analysis_version = ?2 AND a.options = ?3"));
    query.BindText(trial).BindInteger(analysis_version).BindBytes(options.SerializeAsString());
    GAITSHELF_ASSIGN_OR_RETURN(const bool has_row, query.Step());
    if (!has_row) {
      return Found();
    }
    v1::TrialAnalysis analysis;
    if (!analysis.ParseFromString(query.Bytes(0))) {
      return absl::DataLossError(
          absl::StrCat("the stored analysis of trial '", trial, "' cannot be read back"));
    }
    return Found(std::move(analysis));
  });
}

absl::Status SqlStore::CheckTrialBlocks() {
  std::string faults;
  PageRequest page;
  do {
    GAITSHELF_ASSIGN_OR_RETURN(const TrialPage trials, ListTrials({}, page));
    for (const v1::Trial& trial : trials.trials) {
      GAITSHELF_ASSIGN_OR_RETURN(const int count, CountTrialBlocks(trial.name()));
      for (int number = 0; number < count; ++number) {
        const absl::Status status = GetTrialBlock(trial.name(), number).status();
        if (absl::IsDataLoss(status)) {
          absl::StrAppend(&faults, faults.empty() ? "" : "; ", status.message());
        } else if (!status.ok()) {
          return status;
        }
      }
    }
    page.page_token = trials.next_page_token;
  } while (!page.page_token.empty());
  return faults.empty() ? absl::OkStatus() : absl::DataLossError(faults);
}

}  // namespace gaitshelf::service
