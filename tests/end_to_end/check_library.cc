// Reads a library whole, as its own check of integrity does, and says what is damaged.
//
// Usage: check_library PATH|ADDRESS. Exit status: 0 when all is well, else 1.
#include <iostream>

#include "absl/status/status.h"
#include "service/library/open_library.h"

int main(int argc, char** argv) {
  if (argc != 2) {
    std::cerr << "usage: check_library PATH|ADDRESS\n";
    return 1;
  }
  const auto library = gaitshelf::service::OpenLibrary(argv[1], {});
  const absl::Status status = library.ok() ? (*library)->CheckIntegrity() : library.status();
  std::cout << status << "\n";
  return status.ok() ? 0 : 1;
}
