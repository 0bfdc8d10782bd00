#include "service/library/sqlite_schema.h"

#include <cerrno>
#include <cstdint>
#include <cstdio>
#include <system_error>

#include <unistd.h>

#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// Marks a file as ours: "gshf" in ASCII.
constexpr std::int64_t kApplicationId = 0x67736866;

// Copies the library beside itself. Through a file of another name, so that a copy with the final
// name is always whole.
absl::Status BackUp(SqliteConnection* connection, std::size_t schema) {
  const std::string target = absl::StrCat(connection->path(), ".before-schema-", schema);
  const std::string unfinished = absl::StrCat(target, ".", getpid(), ".part");
  std::remove(unfinished.c_str());
  {
    GAITSHELF_ASSIGN_OR_RETURN(SqlStatement statement, connection->Prepare("VACUUM INTO ?1"));
    GAITSHELF_RETURN_IF_ERROR(statement.BindText(unfinished).Run().status());
  }
  if (std::rename(unfinished.c_str(), target.c_str()) != 0) {
    return absl::InternalError(absl::StrCat("cannot rename the backup ",
                                            unfinished,
                                            " to ",
                                            target,
                                            ": ",
                                            std::generic_category().message(errno)));
  }
  return absl::OkStatus();
}

absl::Status CheckOwnership(SqliteConnection* connection) {
  // Tables before the mark: another process may make both between the two questions.
  GAITSHELF_ASSIGN_OR_RETURN(const std::int64_t tables,
                             connection->QueryInteger("SELECT count(*) FROM sqlite_schema"));
  GAITSHELF_ASSIGN_OR_RETURN(const std::int64_t application,
                             connection->QueryInteger("PRAGMA application_id"));
  if (application == kApplicationId) {
    return absl::OkStatus();
  }
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
