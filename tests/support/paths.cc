#include "tests/support/paths.h"

namespace gaitshelf::test {

std::string SourcePath(const std::string& relative) { return GAITSHELF_SOURCE_DIR "/" + relative; }

std::string ProgramPath(const std::string& name) { return GAITSHELF_BIN_DIR "/" + name; }

bool IsSanitized() { return !std::string(GAITSHELF_SANITIZER).empty(); }

}  // namespace gaitshelf::test
