// Where a measurement keeps its libraries: in files of a folder, or in schemas of a PostgreSQL
// database of its own. What is made here goes with it.
#ifndef GAITSHELF_TESTS_BENCH_LIBRARY_HOME_H_
#define GAITSHELF_TESTS_BENCH_LIBRARY_HOME_H_

#include <memory>
#include <string>

#include "absl/status/statusor.h"
#include "tests/support/postgres_cluster.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::bench {

class LibraryHome {
 public:
  // A database is "sqlite" or "postgres".
  explicit LibraryHome(const std::string& database);

  // For what else a measurement needs.
  [[nodiscard]] const test::TemporaryFolder& folder() const { return folder_; }

  // Returns the name of a library, as gaitshelfd takes it, that is empty so far. The key has small
  // letters, digits and underscores.
  absl::StatusOr<std::string> Add(const std::string& key);
  // What a library takes of the disk, MB.
  absl::StatusOr<double> SizeMb(const std::string& library) const;

 private:
  test::TemporaryFolder folder_;
  std::unique_ptr<test::PostgresCluster> cluster_;  // null for SQLite
};

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_LIBRARY_HOME_H_
