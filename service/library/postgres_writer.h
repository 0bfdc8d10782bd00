// How a writer learns, when its connection was lost during a commit, whether the commit took place.
//
// Each connection that writes has a row of its own, and every transaction that changes anything
// also leaves its number there. PostgreSQL's own numbers of transactions will not do: one that a
// crash has undone without a trace may be given again, to a transaction of somebody else.
#ifndef GAITSHELF_SERVICE_LIBRARY_POSTGRES_WRITER_H_
#define GAITSHELF_SERVICE_LIBRARY_POSTGRES_WRITER_H_

#include <optional>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/library/postgres_connection.h"

namespace gaitshelf::service {

// All of them return kUnavailable when the database is out of reach or busy.

// Makes the table of the rows unless it is there, and drops rows of connections that are long gone.
absl::Status MakeWriters(PostgresConnection* connection);

// Gives the connection its row, unless it has one. Outside of a transaction, so that the row stays
// whatever becomes of the first one.
absl::Status BecomeWriter(PostgresConnection* connection);

// Leaves a number that was not there before in the row of a connection that has become a writer,
// within a transaction. Absent when the transaction has changed nothing.
absl::StatusOr<std::optional<PostgresWriter>> LeaveMark(PostgresConnection* connection);

// Asks over another connection whether the transaction that left the mark was committed; absent
// while the database has not ended it yet, or when the row was dropped since.
absl::StatusOr<std::optional<bool>> WasCommitted(PostgresConnection* connection,
                                                 const PostgresWriter& mark);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_POSTGRES_WRITER_H_
