// Changes of messages for the fuzz targets: bytes that are changed at random are seldom a message.
#ifndef GAITSHELF_TESTS_FUZZ_MUTATE_MESSAGE_H_
#define GAITSHELF_TESTS_FUZZ_MUTATE_MESSAGE_H_

#include <cstddef>
#include <cstdint>
#include <random>

#include <google/protobuf/message.h>

namespace gaitshelf::fuzz {

// Changes a message in one place: a value, or what is there. Text stays valid UTF-8, since other
// text does not get through the decoding of a request.
void MutateMessage(google::protobuf::Message* message, std::minstd_rand* random);

// What a fuzzer's own mutator does for a target that takes a message: changes `size` bytes in
// place, which has room for `most`, and returns how many there are then. Now and then it changes
// bytes instead. `message` is an empty message of the target's type.
std::size_t MutateBytes(google::protobuf::Message* message,
                        std::uint8_t* bytes,
                        std::size_t size,
                        std::size_t most,
                        unsigned int seed);

}  // namespace gaitshelf::fuzz

#endif  // GAITSHELF_TESTS_FUZZ_MUTATE_MESSAGE_H_
