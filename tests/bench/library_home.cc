#include "tests/bench/library_home.h"

#include <cstdint>
#include <filesystem>

#include "absl/strings/str_cat.h"
#include "service/library/postgres_connection.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::bench {
namespace {

constexpr int kLockTimeoutMs = 1000;
// Tables, indexes and what is kept beside rows, of the schema that the address names.
constexpr char kSizeOfSchema[] =
    "SELECT coalesce(sum(pg_total_relation_size(c.oid)), 0)::bigint FROM pg_class AS c "
    "JOIN pg_namespace AS n ON n.oid = c.relnamespace "
    "WHERE n.nspname = current_schema() AND c.relkind = 'r'";

}  // namespace

LibraryHome::LibraryHome(const std::string& database) {
  if (database == "postgres") {
    cluster_ = std::make_unique<test::PostgresCluster>();
  }
}

absl::StatusOr<std::string> LibraryHome::Add(const std::string& key) {
  if (cluster_ == nullptr) {
    return folder_.File(key + ".db");
  }
  GAITSHELF_ASSIGN_OR_RETURN(
      const std::unique_ptr<service::PostgresConnection> connection,
      service::PostgresConnection::Open(cluster_->address(), kLockTimeoutMs));
  GAITSHELF_RETURN_IF_ERROR(connection->Execute("CREATE SCHEMA " + key));
  return cluster_->AddressOf(key);
}

absl::StatusOr<double> LibraryHome::SizeMb(const std::string& library) const {
  if (cluster_ == nullptr) {
    return 1e-6 * static_cast<double>(std::filesystem::file_size(library));
  }
  GAITSHELF_ASSIGN_OR_RETURN(const std::unique_ptr<service::PostgresConnection> connection,
                             service::PostgresConnection::Open(library, kLockTimeoutMs));
  GAITSHELF_ASSIGN_OR_RETURN(const std::int64_t bytes, connection->QueryInteger(kSizeOfSchema));
  return 1e-6 * static_cast<double>(bytes);
}

}  // namespace gaitshelf::bench
