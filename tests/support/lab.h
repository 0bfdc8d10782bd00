// A laboratory's certificates as deploy/lab-ca makes them, and certificates of odd times or names.
#ifndef GAITSHELF_TESTS_SUPPORT_LAB_H_
#define GAITSHELF_TESTS_SUPPORT_LAB_H_

#include <cstdlib>
#include <fstream>
#include <iterator>
#include <string>

#include <gtest/gtest.h>

#include "tests/support/paths.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::test {

class Lab {
 public:
  Lab() { Run("init"); }

  // Runs deploy/lab-ca, such as Run("member", "ada keeper").
  void Run(const std::string& command, const std::string& words = "") {
    const std::string line = SourcePath("deploy/lab-ca ") + command + " " + folder_.path() + " " +
                             words + " > " + folder_.File("out") + " 2>&1";
    // NOLINTNEXTLINE(concurrency-mt-unsafe)
    EXPECT_EQ(std::system(line.c_str()), 0) << line << "\n" << Read("out");
  }

  std::string server_folder() const { return folder_.File("server"); }
  std::string member_folder(const std::string& name) const {
    return folder_.File("member/" + name);
  }
  std::string File(const std::string& name) const { return folder_.File(name); }
  std::string Read(const std::string& name) const {
    std::ifstream file(folder_.File(name), std::ios::binary);
    return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  }

 private:
  TemporaryFolder folder_;
};

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_LAB_H_
