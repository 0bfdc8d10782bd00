#include "service/library/postgres_schema.h"

#include <cstddef>
#include <cstdint>

#include "absl/strings/str_cat.h"
#include "service/library/postgres_dialect.h"
#include "service/library/postgres_writer.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// Makes the table that says which schema the others have, unless it is there.
absl::Status MakeMark(PostgresConnection* connection) {
  GAITSHELF_ASSIGN_OR_RETURN(
      const std::int64_t tables,
      connection->QueryInteger("SELECT count(*) FROM pg_catalog.pg_tables WHERE "
                               "schemaname = current_schema()"));
  GAITSHELF_ASSIGN_OR_RETURN(
      const std::int64_t marks,
      connection->QueryInteger("SELECT count(*) FROM pg_catalog.pg_tables WHERE "
                               "schemaname = current_schema() AND tablename = 'library_schema'"));
  if (marks > 0) {
    return absl::OkStatus();
  }
  if (tables > 0) {
    return absl::FailedPreconditionError(
        absl::StrCat("library ",
                     connection->place(),
                     ": the database is another program's; make one for the library alone"));
  }
  return connection->Execute(
      "CREATE TABLE library_schema (schema BIGINT NOT NULL); "
      "INSERT INTO library_schema VALUES (0)");
}

absl::Status Upgrade(PostgresConnection* connection, const std::vector<std::string>& steps) {
  GAITSHELF_RETURN_IF_ERROR(connection->Execute(kLockLibrary));
  GAITSHELF_RETURN_IF_ERROR(MakeMark(connection));
  GAITSHELF_RETURN_IF_ERROR(MakeWriters(connection));
  GAITSHELF_ASSIGN_OR_RETURN(const std::int64_t schema,
                             connection->QueryInteger("SELECT schema FROM library_schema"));
  if (schema < 0 || static_cast<std::size_t>(schema) > steps.size()) {
    return absl::FailedPreconditionError(absl::StrCat("library ",
                                                      connection->place(),
                                                      ": the database has schema ",
                                                      schema,
                                                      ", this program knows up to ",
                                                      steps.size(),
                                                      "; use a newer program"));
  }
  for (auto step = static_cast<std::size_t>(schema); step < steps.size(); ++step) {
    GAITSHELF_RETURN_IF_ERROR(connection->Execute(ToPostgresSchema(steps[step])));
  }
  return connection->Execute(absl::StrCat("UPDATE library_schema SET schema = ", steps.size()));
}

}  // namespace

absl::Status UpgradePostgresSchema(PostgresConnection* connection,
                                   const std::vector<std::string>& steps) {
  GAITSHELF_RETURN_IF_ERROR(connection->Execute("BEGIN"));
  const absl::Status status = Upgrade(connection, steps);
  if (!status.ok()) {
    connection->Execute("ROLLBACK").IgnoreError();
    return status;
  }
  return connection->Execute("COMMIT");
}

}  // namespace gaitshelf::service
