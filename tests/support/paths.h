// Where the checkout and the built programs are, and how these were built. Only paths.cc is
// compiled with that, so that all other tests of all checkouts and kinds of build share one
// compiler cache.
#ifndef GAITSHELF_TESTS_SUPPORT_PATHS_H_
#define GAITSHELF_TESTS_SUPPORT_PATHS_H_

#include <string>

namespace gaitshelf::test {

// Returns the path of a file of the checkout, such as "deploy/demo/weevil.robot.textproto".
std::string SourcePath(const std::string& relative);

// Returns the path of a built program, such as "gaitshelfd".
std::string ProgramPath(const std::string& name);

// True when the programs are built with a sanitizer, which makes them many times slower.
bool IsSanitized();

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_PATHS_H_
