#include "service/library/postgres_library.h"

#include <utility>

#include "service/library/postgres_connection.h"
#include "service/library/postgres_schema.h"
#include "service/library/sql_schema.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {

absl::StatusOr<std::unique_ptr<Library>> OpenPostgresLibrary(
    const std::string& address,
    const SqlStoreOptions& options,
    const PostgresStorageOptions& storage_options) {
  GAITSHELF_RETURN_IF_ERROR(CheckPostgresAddress(address));
  auto storage = std::make_unique<PostgresStorage>(address, storage_options);
  GAITSHELF_RETURN_IF_ERROR(storage->UpgradeSchema(LibrarySchemaSteps()));
  return std::make_unique<SqlStore>(std::move(storage), options);
}

}  // namespace gaitshelf::service
