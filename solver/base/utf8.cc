#include "solver/base/utf8.h"

#include <cstddef>

namespace gaitshelf::solver {
namespace {

unsigned int Byte(absl::string_view bytes, std::size_t index) {
  return static_cast<unsigned char>(bytes[index]);
}

// Bytes of the UTF-8 sequence that starts with this one; 0 when none does. RFC 3629, section 4.
std::size_t SequenceLength(unsigned int lead) {
  return lead < 0x80   ? 1
         : lead < 0xC2 ? 0
         : lead < 0xE0 ? 2
         : lead < 0xF0 ? 3
         : lead < 0xF5 ? 4
                       : 0;
}

// Whether the bytes behind the first of a sequence may follow it. The second byte is bound more
// closely where the first would otherwise start an overlong form, a surrogate or more than
// U+10FFFF; RFC 3629, section 4.
bool HasGoodTail(absl::string_view sequence) {
  if (sequence.size() == 1) {
    return true;
  }
  const unsigned int lead = Byte(sequence, 0);
  const unsigned int least = lead == 0xE0 ? 0xA0 : lead == 0xF0 ? 0x90 : 0x80;
  const unsigned int greatest = lead == 0xED ? 0x9F : lead == 0xF4 ? 0x8F : 0xBF;
  if (Byte(sequence, 1) < least || Byte(sequence, 1) > greatest) {
    return false;
  }
  for (std::size_t i = 2; i < sequence.size(); ++i) {
    if ((Byte(sequence, i) & 0xC0u) != 0x80u) {
      return false;
    }
  }
  return true;
}

// Returns how many bytes the sequence has with which they begin; 0 when they begin with none.
std::size_t GoodLength(absl::string_view bytes) {
  const std::size_t length = SequenceLength(Byte(bytes, 0));
  return length <= bytes.size() && length > 0 && HasGoodTail(bytes.substr(0, length)) ? length : 0;
}

}  // namespace

bool IsUtf8(absl::string_view bytes) {
  while (!bytes.empty()) {
    const std::size_t length = GoodLength(bytes);
    if (length == 0) {
      return false;
    }
    bytes.remove_prefix(length);
  }
  return true;
}

std::string ToUtf8(absl::string_view bytes) {
  std::string text;
  while (!bytes.empty()) {
    const std::size_t length = GoodLength(bytes);
    text += length == 0 ? std::string("\uFFFD") : std::string(bytes.substr(0, length));
    bytes.remove_prefix(length == 0 ? 1 : length);
  }
  return text;
}

}  // namespace gaitshelf::solver
