#include "service/library/postgres_writer.h"

#include "solver/base/status_macros.h"

namespace gaitshelf::service {

absl::Status MakeWriters(PostgresConnection* connection) {
  return connection->Execute(
      "CREATE TABLE IF NOT EXISTS writers (name TEXT PRIMARY KEY, process INTEGER NOT NULL, "
      "number BIGINT NOT NULL, written TIMESTAMPTZ NOT NULL); "
      "DELETE FROM writers WHERE written < now() - INTERVAL '1 day' AND process NOT IN "
      "(SELECT pid FROM pg_stat_activity)");
}

absl::Status BecomeWriter(PostgresConnection* connection) {
  PostgresWriter& writer = connection->writer();
  if (!writer.name.empty()) {
    return absl::OkStatus();
  }
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement insert,
      connection->Prepare("INSERT INTO writers (name, process, number, written) VALUES "
                          "(CAST(gen_random_uuid() AS TEXT), pg_backend_pid(), 0, now()) "
                          "RETURNING name"));
  GAITSHELF_RETURN_IF_ERROR(insert.Step().status());
  writer = {.name = insert.Bytes(0)};
  return absl::OkStatus();
}

absl::StatusOr<std::optional<PostgresWriter>> LeaveMark(PostgresConnection* connection) {
  PostgresWriter& writer = connection->writer();
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement update,
      connection->Prepare("UPDATE writers SET number = ?1, written = now() WHERE name = ?2 "
                          "AND pg_current_xact_id_if_assigned() IS NOT NULL"));
  ++writer.number;
  GAITSHELF_ASSIGN_OR_RETURN(const int rows,
                             update.BindInteger(writer.number).BindText(writer.name).Run());
  return rows > 0 ? std::optional<PostgresWriter>(writer) : std::nullopt;
}

absl::StatusOr<std::optional<bool>> WasCommitted(PostgresConnection* connection,
                                                 const PostgresWriter& mark) {
  // The row stays locked as long as the transaction is neither committed nor undone.
  GAITSHELF_ASSIGN_OR_RETURN(
      SqlStatement query,
      connection->Prepare("SELECT number FROM writers WHERE name = ?1 FOR UPDATE"));
  const absl::StatusOr<bool> is_there = query.BindText(mark.name).Step();
  if (absl::IsUnavailable(is_there.status()) && !connection->is_lost()) {
    return std::optional<bool>();
  }
  GAITSHELF_RETURN_IF_ERROR(is_there.status());
  return *is_there ? std::optional<bool>(query.Integer(0) == mark.number) : std::nullopt;
}

}  // namespace gaitshelf::service
