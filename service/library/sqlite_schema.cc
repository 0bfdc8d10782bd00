#include "service/library/sqlite_schema.h"

#include <cerrno>
#include <cstdint>
#include <cstdio>
#include <cstring>

#include <unistd.h>

#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// Marks a file as ours: "gshf" in ASCII.
constexpr std::int64_t kApplicationId = 0x67736866;

// Times are microseconds since 1970. States and verdicts are the numbers of the protobuf enums.
// Numbers in the partial index: 1 queued, 2 running.
constexpr char kFirstSchema[] = R"sql(
CREATE TABLE descriptions (
  kind INTEGER NOT NULL,
  name TEXT NOT NULL,
  version INTEGER NOT NULL,
  digest TEXT NOT NULL,
  create_us INTEGER NOT NULL,
  body BLOB NOT NULL,
  PRIMARY KEY (kind, name, version)
) WITHOUT ROWID;
CREATE INDEX descriptions_by_digest ON descriptions (kind, name, digest, version);

CREATE TABLE gaits (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  name TEXT NOT NULL UNIQUE,
  order_key TEXT NOT NULL,
  robot TEXT NOT NULL,
  robot_digest TEXT NOT NULL,
  surface TEXT NOT NULL,
  surface_digest TEXT NOT NULL,
  verdict INTEGER NOT NULL,
  cost_ratio REAL NOT NULL,
  insert_us INTEGER NOT NULL,
  summary BLOB NOT NULL
);
CREATE INDEX gaits_by_key ON gaits (order_key, verdict, cost_ratio, id);

CREATE TABLE gait_bodies (
  gait_id INTEGER PRIMARY KEY REFERENCES gaits (id),
  sha256 BLOB NOT NULL,
  body BLOB NOT NULL
);

CREATE TABLE jobs (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  order_key TEXT NOT NULL,
  state INTEGER NOT NULL,
  gait_order BLOB NOT NULL,
  robot_digest TEXT NOT NULL,
  surface_digest TEXT NOT NULL,
  requester TEXT NOT NULL,
  attempt INTEGER NOT NULL DEFAULT 0,
  crash_count INTEGER NOT NULL DEFAULT 0,
  owner TEXT NOT NULL DEFAULT '',
  heartbeat_us INTEGER NOT NULL DEFAULT 0,
  is_cancel_requested INTEGER NOT NULL DEFAULT 0,
  progress BLOB,
  gait TEXT NOT NULL DEFAULT '',
  failure_reason TEXT NOT NULL DEFAULT '',
  create_us INTEGER NOT NULL,
  update_us INTEGER NOT NULL
);
CREATE UNIQUE INDEX jobs_one_open_by_key ON jobs (order_key)
  WHERE state IN (1, 2) AND is_cancel_requested = 0;
CREATE INDEX jobs_open ON jobs (state, crash_count, id) WHERE state IN (1, 2);

CREATE TABLE job_checkpoints (
  job_id INTEGER PRIMARY KEY REFERENCES jobs (id),
  body BLOB NOT NULL
);
)sql";

// Trials: what a list shows in one table, the samples in blocks of their own. A body over a few
// pages does not belong into a table without row numbers.
constexpr char kTrialSchema[] = R"sql(
CREATE TABLE trials (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  name TEXT NOT NULL UNIQUE,
  kind INTEGER NOT NULL,
  robot TEXT NOT NULL,
  gait TEXT NOT NULL,
  block_count INTEGER NOT NULL,
  body BLOB NOT NULL
);
CREATE TABLE trial_blocks (
  trial_id INTEGER NOT NULL REFERENCES trials (id),
  number INTEGER NOT NULL,
  sha256 BLOB NOT NULL,
  body BLOB NOT NULL,
  PRIMARY KEY (trial_id, number)
);
CREATE TABLE trial_analyses (
  trial_id INTEGER NOT NULL REFERENCES trials (id),
  analysis_version INTEGER NOT NULL,
  options BLOB NOT NULL,
  create_us INTEGER NOT NULL,
  body BLOB NOT NULL,
  PRIMARY KEY (trial_id, analysis_version, options)
);
)sql";

constexpr char kLegTables[] = R"sql(
CREATE TABLE leg_tables (
  robot_digest TEXT PRIMARY KEY,
  sha256 BLOB NOT NULL,
  body BLOB NOT NULL
);
)sql";

// What only ever grows, and which gaits are out of service.
constexpr char kCareSchema[] = R"sql(
CREATE TABLE changes (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  time_us INTEGER NOT NULL,
  requester TEXT NOT NULL,
  kind INTEGER NOT NULL,
  subject TEXT NOT NULL,
  detail TEXT NOT NULL
);
CREATE TRIGGER changes_stay BEFORE UPDATE ON changes
  BEGIN SELECT RAISE(ABORT, 'the log of changes is only added to'); END;
CREATE TRIGGER changes_are_kept BEFORE DELETE ON changes
  BEGIN SELECT RAISE(ABORT, 'the log of changes is only added to'); END;

CREATE TABLE retirements (
  gait_id INTEGER PRIMARY KEY REFERENCES gaits (id),
  retire_us INTEGER NOT NULL,
  requester TEXT NOT NULL,
  reason TEXT NOT NULL
);
)sql";

// Copies the library beside itself. Through a file of another name, so that a copy with the final
// name is always whole.
absl::Status BackUp(SqliteConnection* connection, std::size_t schema) {
  const std::string target = absl::StrCat(connection->path(), ".before-schema-", schema);
  const std::string unfinished = absl::StrCat(target, ".", getpid(), ".part");
  std::remove(unfinished.c_str());
  {
    GAITSHELF_ASSIGN_OR_RETURN(SqliteStatement statement, connection->Prepare("VACUUM INTO ?1"));
    GAITSHELF_RETURN_IF_ERROR(statement.BindText(unfinished).Run().status());
  }
  if (std::rename(unfinished.c_str(), target.c_str()) != 0) {
    return absl::InternalError(absl::StrCat(
        "cannot rename the backup ", unfinished, " to ", target, ": ", std::strerror(errno)));
  }
  return absl::OkStatus();
}

absl::Status CheckOwnership(SqliteConnection* connection) {
  GAITSHELF_ASSIGN_OR_RETURN(const std::int64_t application,
                             connection->QueryInteger("PRAGMA application_id"));
  if (application == kApplicationId) {
    return absl::OkStatus();
  }
  GAITSHELF_ASSIGN_OR_RETURN(const std::int64_t tables,
                             connection->QueryInteger("SELECT count(*) FROM sqlite_schema"));
  if (application != 0 || tables != 0) {
    return absl::FailedPreconditionError(
        absl::StrCat("library ",
                     connection->path(),
                     ": the file is a database of another program; name another file"));
  }
  return absl::OkStatus();
}

absl::StatusOr<std::size_t> ReadSchema(SqliteConnection* connection, std::size_t newest) {
  GAITSHELF_ASSIGN_OR_RETURN(const std::int64_t schema,
                             connection->QueryInteger("PRAGMA user_version"));
  if (schema < 0 || static_cast<std::size_t>(schema) > newest) {
    return absl::FailedPreconditionError(absl::StrCat("library ",
                                                      connection->path(),
                                                      ": the file has schema ",
                                                      schema,
                                                      ", this program knows up to ",
                                                      newest,
                                                      "; use a newer program"));
  }
  return static_cast<std::size_t>(schema);
}

}  // namespace

const std::vector<std::string>& SqliteSchemaSteps() {
  static const std::vector<std::string>* const steps =
      new std::vector<std::string>{kFirstSchema, kTrialSchema, kLegTables, kCareSchema};
  return *steps;
}

absl::Status UpgradeSqliteSchema(SqliteConnection* connection,
                                 const std::vector<std::string>& steps) {
  GAITSHELF_RETURN_IF_ERROR(CheckOwnership(connection));
  GAITSHELF_ASSIGN_OR_RETURN(std::size_t schema, ReadSchema(connection, steps.size()));
  if (schema == steps.size()) {
    return absl::OkStatus();
  }
  if (schema > 0) {
    GAITSHELF_RETURN_IF_ERROR(BackUp(connection, steps.size()));
  }
  GAITSHELF_ASSIGN_OR_RETURN(SqliteTransaction transaction, SqliteTransaction::Begin(connection));
  // Another process may have been faster while this one waited for the lock.
  GAITSHELF_ASSIGN_OR_RETURN(schema, ReadSchema(connection, steps.size()));
  for (; schema < steps.size(); ++schema) {
    GAITSHELF_RETURN_IF_ERROR(connection->Execute(steps[schema]));
  }
  GAITSHELF_RETURN_IF_ERROR(
      connection->Execute(absl::StrCat("PRAGMA user_version = ", steps.size())));
  GAITSHELF_RETURN_IF_ERROR(
      connection->Execute(absl::StrCat("PRAGMA application_id = ", kApplicationId)));
  return transaction.Commit();
}

}  // namespace gaitshelf::service
