// What every fuzz target needs: a way to say that a property does not hold, and the glue of a
// target that takes a message.
#ifndef GAITSHELF_TESTS_FUZZ_TARGET_H_
#define GAITSHELF_TESTS_FUZZ_TARGET_H_

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string>

#include "tests/fuzz/mutate_message.h"

namespace gaitshelf::fuzz {

// Ends the program, which the fuzzer reports with the input, when a property does not hold.
inline void Require(bool holds, const std::string& property) {
  if (!holds) {
    std::fprintf(stderr, "does not hold: %s\n", property.c_str());
    std::abort();
  }
}

}  // namespace gaitshelf::fuzz

// Makes a target of a function that takes a message. Bytes that are no such message are left: gRPC
// turns them away before any of our code.
#define GAITSHELF_FUZZ_MESSAGE(Type, Function)                                         \
  extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t size) { \
    Type message;                                                                      \
    if (message.ParseFromArray(bytes, static_cast<int>(size))) {                       \
      Function(message);                                                               \
    }                                                                                  \
    return 0;                                                                          \
  }                                                                                    \
  extern "C" std::size_t LLVMFuzzerCustomMutator(                                      \
      std::uint8_t* bytes, std::size_t size, std::size_t most, unsigned int seed) {    \
    Type message;                                                                      \
    return gaitshelf::fuzz::MutateBytes(&message, bytes, size, most, seed);            \
  }                                                                                    \
  static_assert(true, "takes the semicolon")

#endif  // GAITSHELF_TESTS_FUZZ_TARGET_H_
