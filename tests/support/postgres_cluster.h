// A PostgreSQL database for a test program, started by deploy/postgres/private-cluster.
#ifndef GAITSHELF_TESTS_SUPPORT_POSTGRES_CLUSTER_H_
#define GAITSHELF_TESTS_SUPPORT_POSTGRES_CLUSTER_H_

#include <cctype>
#include <cstdio>
#include <cstdlib>
#include <string>

#include <sys/stat.h>

#include "tests/support/paths.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::test {

class PostgresCluster {
 public:
  PostgresCluster() {
    // The user postgres must be able to enter.
    chmod(folder_.path().c_str(), 0711);
    Start();
  }
  PostgresCluster(const PostgresCluster&) = delete;
  PostgresCluster& operator=(const PostgresCluster&) = delete;
  ~PostgresCluster() { Stop("fast"); }

  // Return whether it worked; the script says on standard error what did not.
  bool Start() { return Run("start " + folder_.path() + " no-sync > " + folder_.File("address")); }
  // The mode is "fast" or "immediate", which is like a crash.
  bool Stop(const std::string& mode) { return Run("stop " + folder_.path() + " " + mode); }

  [[nodiscard]] std::string address() const {
    return "postgresql://gaitshelf@/gaitshelf?host=" + folder_.path() + "/socket";
  }
  // An address that has the tables of one library for itself, in a schema of the given name.
  [[nodiscard]] std::string AddressOf(const std::string& schema) const {
    return address() + "&options=-csearch_path%3D" + schema;
  }
  // A name for a schema out of any text: small letters, digits and underscores.
  static std::string SchemaName(const std::string& text) {
    std::string name = "t";
    for (const char c : text) {
      const auto letter = static_cast<unsigned char>(c);
      name += std::isupper(letter) != 0 || std::isalnum(letter) == 0 ? "_" : "";
      name += std::isalnum(letter) != 0 ? static_cast<char>(std::tolower(letter)) : '_';
    }
    return name;
  }

 private:
  static bool Run(const std::string& arguments) {
    return std::system((SourcePath("deploy/postgres/private-cluster ") + arguments).c_str()) == 0;
  }

  TemporaryFolder folder_;
};

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_POSTGRES_CLUSTER_H_
