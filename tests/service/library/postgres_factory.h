// A library in PostgreSQL for the contract tests: one database for the whole test program, in which
// every folder has a schema of its own.
#ifndef GAITSHELF_TESTS_SERVICE_LIBRARY_POSTGRES_FACTORY_H_
#define GAITSHELF_TESTS_SERVICE_LIBRARY_POSTGRES_FACTORY_H_

#include <memory>
#include <string>

#include "service/library/postgres_connection.h"
#include "service/library/postgres_library.h"
#include "solver/base/status_macros.h"
#include "tests/service/library/library_contract.h"
#include "tests/support/postgres_cluster.h"

namespace gaitshelf::service {

inline test::PostgresCluster& SharedCluster() {
  static test::PostgresCluster cluster;
  return cluster;
}

// Returns the address of an empty or known schema.
inline absl::StatusOr<std::string> MakeSchema(const std::string& name) {
  const std::string schema = test::PostgresCluster::SchemaName(name);
  GAITSHELF_ASSIGN_OR_RETURN(const std::unique_ptr<PostgresConnection> connection,
                             PostgresConnection::Open(SharedCluster().address(), 1000));
  GAITSHELF_RETURN_IF_ERROR(
      connection->Execute(absl::StrCat("CREATE SCHEMA IF NOT EXISTS ", schema)));
  return SharedCluster().AddressOf(schema);
}

inline LibraryFactory PostgresFactory() {
  return {.name = "Postgres",
          .open = [](const std::string& folder,
                     const ContractLimits& limits) -> absl::StatusOr<std::unique_ptr<Library>> {
            GAITSHELF_ASSIGN_OR_RETURN(const std::string address, MakeSchema(folder));
            return OpenPostgresLibrary(address,
                                       {.queue_limit = limits.queue_limit,
                                        .jobs_per_member = limits.jobs_per_member,
                                        .crash_limit = limits.crash_limit,
                                        .gait_cache_bytes = 1 << 20},
                                       {});
          }};
}

}  // namespace gaitshelf::service

#endif  // GAITSHELF_TESTS_SERVICE_LIBRARY_POSTGRES_FACTORY_H_
