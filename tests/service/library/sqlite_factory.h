// The embedded library for the contract tests.
#ifndef GAITSHELF_TESTS_SERVICE_LIBRARY_SQLITE_FACTORY_H_
#define GAITSHELF_TESTS_SERVICE_LIBRARY_SQLITE_FACTORY_H_

#include <string>

#include "service/library/sqlite_library.h"
#include "tests/service/library/library_contract.h"

namespace gaitshelf::service {

inline std::string SqliteFile(const std::string& folder) { return folder + "/library.db"; }

inline LibraryFactory SqliteFactory() {
  return {.name = "Sqlite", .open = [](const std::string& folder, const ContractLimits& limits) {
            return OpenSqliteLibrary(SqliteFile(folder),
                                     {.queue_limit = limits.queue_limit,
                                      .jobs_per_member = limits.jobs_per_member,
                                      .crash_limit = limits.crash_limit,
                                      .gait_cache_bytes = 1 << 20});
          }};
}

}  // namespace gaitshelf::service

#endif  // GAITSHELF_TESTS_SERVICE_LIBRARY_SQLITE_FACTORY_H_
