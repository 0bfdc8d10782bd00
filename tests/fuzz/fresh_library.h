// Libraries for the targets that need one: real, in a file, and each as if it had just been made.
#ifndef GAITSHELF_TESTS_FUZZ_FRESH_LIBRARY_H_
#define GAITSHELF_TESTS_FUZZ_FRESH_LIBRARY_H_

#include <filesystem>
#include <memory>
#include <string>

#include "service/library/sqlite_library.h"
#include "tests/fuzz/target.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::fuzz {

class FreshLibraries {
 public:
  // `fill` puts into every library what it begins with; may do nothing.
  template <typename Fill>
  explicit FreshLibraries(const Fill& fill) {
    fill(OpenFile(kFirst).get());
  }

  // Opens a new library; the last of the same name must be closed.
  [[nodiscard]] std::unique_ptr<service::Library> Open(const std::string& name) const {
    for (const char* ending : {"", "-wal", "-shm"}) {
      std::filesystem::remove(folder_.File(name + ending));
    }
    // Much faster than to make the tables anew.
    std::filesystem::copy_file(folder_.File(kFirst), folder_.File(name));
    return OpenFile(name);
  }

 private:
  static constexpr const char* kFirst = "first.db";

  [[nodiscard]] std::unique_ptr<service::Library> OpenFile(const std::string& name) const {
    auto library = service::OpenSqliteLibrary(folder_.File(name), {});
    Require(library.ok(), "a new library opens: " + library.status().ToString());
    return *std::move(library);
  }

  test::TemporaryFolder folder_;
};

}  // namespace gaitshelf::fuzz

#endif  // GAITSHELF_TESTS_FUZZ_FRESH_LIBRARY_H_
