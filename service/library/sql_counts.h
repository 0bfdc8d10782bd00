// Numbers of rows that are kept beside them: counting them would take longer the more there are,
// and servers ask when they start and again and again.
#ifndef GAITSHELF_SERVICE_LIBRARY_SQL_COUNTS_H_
#define GAITSHELF_SERVICE_LIBRARY_SQL_COUNTS_H_

#include <cstdint>

#include "absl/status/status.h"
#include "service/library/sql_connection.h"

namespace gaitshelf::service {

// Tables whose rows are counted.
inline constexpr char kGaitRows[] = "gaits";
inline constexpr char kTrialRows[] = "trials";

// Takes down that a table has so many rows more, in the transaction that adds or removes them.
absl::Status CountRows(SqlConnection* connection, const char* table, std::int64_t more);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_SQL_COUNTS_H_
