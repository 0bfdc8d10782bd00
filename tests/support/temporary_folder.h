// A folder that lives as long as its owner.
#ifndef GAITSHELF_TESTS_SUPPORT_TEMPORARY_FOLDER_H_
#define GAITSHELF_TESTS_SUPPORT_TEMPORARY_FOLDER_H_

#include <cstdlib>
#include <filesystem>
#include <string>
#include <system_error>

namespace gaitshelf::test {

class TemporaryFolder {
 public:
  TemporaryFolder() {
    std::string pattern = (std::filesystem::temp_directory_path() / "gaitshelf-XXXXXX").string();
    const char* made = mkdtemp(pattern.data());
    path_ = made == nullptr ? "" : made;
  }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  ~TemporaryFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }

  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] std::string File(const std::string& name) const { return path_ + "/" + name; }

 private:
  std::string path_;
};

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_TEMPORARY_FOLDER_H_
