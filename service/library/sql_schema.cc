#include "service/library/sql_schema.h"

namespace gaitshelf::service {
namespace {

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

// Calibrations carry the descriptions that they made.
constexpr char kCalibrationSchema[] = R"sql(
CREATE TABLE calibrations (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  name TEXT NOT NULL UNIQUE,
  robot TEXT NOT NULL,
  surface TEXT NOT NULL,
  body BLOB NOT NULL
);
)sql";

// Members take turns in the queue (sql_queue.h).
constexpr char kTurnSchema[] = R"sql(
ALTER TABLE jobs ADD COLUMN turn INTEGER NOT NULL DEFAULT 0;
DROP INDEX jobs_open;
CREATE INDEX jobs_open ON jobs (state, crash_count, turn, id) WHERE state IN (1, 2);
CREATE INDEX jobs_open_by_requester ON jobs (requester, turn) WHERE state IN (1, 2);
)sql";

// Lists of one robot or surface, newest first, without passing over all others.
constexpr char kListSchema[] = R"sql(
CREATE INDEX gaits_by_robot ON gaits (robot, id);
CREATE INDEX gaits_by_surface ON gaits (surface, id);
)sql";

// Numbers of rows, so that nobody has to count them (sql_counts.h).
constexpr char kCountSchema[] = R"sql(
CREATE TABLE row_counts (
  table_name TEXT PRIMARY KEY,
  row_count INTEGER NOT NULL
);
INSERT INTO row_counts SELECT 'gaits', count(*) FROM gaits;
INSERT INTO row_counts SELECT 'trials', count(*) FROM trials;
)sql";

// The further surfaces of what is for several; the first stands in the row itself.
constexpr char kSurfacesSchema[] = R"sql(
CREATE TABLE gait_surfaces (
  gait_id INTEGER NOT NULL REFERENCES gaits (id),
  surface TEXT NOT NULL,
  surface_digest TEXT NOT NULL,
  PRIMARY KEY (gait_id, surface)
) WITHOUT ROWID;
CREATE INDEX gait_surfaces_by_digest ON gait_surfaces (surface_digest);

CREATE TABLE job_surfaces (
  job_id INTEGER NOT NULL REFERENCES jobs (id),
  surface TEXT NOT NULL,
  surface_digest TEXT NOT NULL,
  PRIMARY KEY (job_id, surface)
) WITHOUT ROWID;
CREATE INDEX job_surfaces_by_digest ON job_surfaces (surface_digest);
)sql";

}  // namespace

const std::vector<std::string>& LibrarySchemaSteps() {
  static const std::vector<std::string>* const steps =
      new std::vector<std::string>{kFirstSchema,
                                   kTrialSchema,
                                   kLegTables,
                                   kCareSchema,
                                   kCalibrationSchema,
                                   kTurnSchema,
                                   kListSchema,
                                   kCountSchema,
                                   kSurfacesSchema};
  return *steps;
}

}  // namespace gaitshelf::service
