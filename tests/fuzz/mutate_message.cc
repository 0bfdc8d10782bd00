#include "tests/fuzz/mutate_message.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include <google/protobuf/descriptor.h>
#include <google/protobuf/stubs/logging.h>

#include "solver/base/utf8.h"

// The fuzzer's own change of bytes, which knows what the program compared.
extern "C" std::size_t LLVMFuzzerMutate(std::uint8_t* data, std::size_t size, std::size_t most);

namespace gaitshelf::fuzz {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;
using google::protobuf::Reflection;

// How much longer one change may make a text.
constexpr std::size_t kMoreBytes = 16;
// One change in this many is of the bytes.
constexpr int kBytesEvery = 10;

// A place of a value: a field that is not repeated (index -1) or an element of one that is.
struct Place {
  Message* owner;
  const FieldDescriptor* field;
  int index;
};

int Below(int count, std::minstd_rand* random) {
  return std::uniform_int_distribution<int>(0, count - 1)(*random);
}

// Gathers all messages inside a message, and itself.
// NOLINTNEXTLINE(misc-no-recursion)
void GatherMessages(Message* message, std::vector<Message*>* all) {
  all->push_back(message);
  const Reflection& reflection = *message->GetReflection();
  std::vector<const FieldDescriptor*> fields;
  reflection.ListFields(*message, &fields);
  for (const FieldDescriptor* field : fields) {
    if (field->cpp_type() != FieldDescriptor::CPPTYPE_MESSAGE) {
      continue;
    }
    if (!field->is_repeated()) {
      GatherMessages(reflection.MutableMessage(message, field), all);
      continue;
    }
    for (int i = 0; i < reflection.FieldSize(*message, field); ++i) {
      GatherMessages(reflection.MutableRepeatedMessage(message, field, i), all);
    }
  }
}

double MutateNumber(double value, std::minstd_rand* random) {
  using Limits = std::numeric_limits<double>;
  static const std::vector<double> kSpecial = {0.0,
                                               -0.0,
                                               1.0,
                                               -1.0,
                                               Limits::quiet_NaN(),
                                               Limits::infinity(),
                                               -Limits::infinity(),
                                               Limits::max(),
                                               Limits::min(),
                                               Limits::denorm_min(),
                                               Limits::epsilon(),
                                               2147483648.0,
                                               9223372036854775808.0};
  switch (Below(5, random)) {
    case 0:
      return kSpecial[static_cast<std::size_t>(Below(static_cast<int>(kSpecial.size()), random))];
    case 1:
      return -value;
    case 2:
      return value * std::pow(10.0, Below(13, random) - 6);
    case 3:
      return std::nextafter(value, Below(2, random) == 0 ? -Limits::max() : Limits::max());
    default:
      return value * std::uniform_real_distribution<double>(0.5, 2.0)(*random);
  }
}

std::int64_t MutateInteger(std::int64_t value, std::minstd_rand* random) {
  using Limits = std::numeric_limits<std::int64_t>;
  switch (Below(5, random)) {
    case 0:
      return Below(20, random) - 2;
    case 1:
      return Below(2, random) == 0 ? Limits::max() : Limits::min();
    case 2:
      return value < Limits::max() ? value + 1 : value;
    case 3:
      return value > Limits::min() ? value - 1 : value;
    default:
      return std::int64_t{1} << Below(40, random);
  }
}

std::string MutateText(const std::string& text, bool is_text) {
  std::vector<std::uint8_t> bytes(text.begin(), text.end());
  bytes.resize(text.size() + kMoreBytes);
  bytes.resize(LLVMFuzzerMutate(bytes.data(), text.size(), bytes.size()));
  std::string changed(bytes.begin(), bytes.end());
  if (is_text && !solver::IsUtf8(changed)) {
    std::replace_if(
        changed.begin(), changed.end(), [](char c) { return (c & 0x80) != 0; }, '?');
  }
  return changed;
}

// Calls the reflection's setter, or that of an element.
#define GAITSHELF_CHANGE(Type, place, change)                                                      \
  do {                                                                                             \
    const Reflection& reflection = *(place).owner->GetReflection();                                \
    if ((place).index < 0) {                                                                       \
      const auto old = reflection.Get##Type(*(place).owner, (place).field);                        \
      reflection.Set##Type((place).owner, (place).field, change);                                  \
    } else {                                                                                       \
      const auto old = reflection.GetRepeated##Type(*(place).owner, (place).field, (place).index); \
      reflection.SetRepeated##Type((place).owner, (place).field, (place).index, change);           \
    }                                                                                              \
  } while (false)

void MutateValue(const Place& place, std::minstd_rand* random) {
  switch (place.field->cpp_type()) {
    case FieldDescriptor::CPPTYPE_DOUBLE:
      GAITSHELF_CHANGE(Double, place, MutateNumber(old, random));
      break;
    case FieldDescriptor::CPPTYPE_INT32:
      GAITSHELF_CHANGE(Int32, place, static_cast<std::int32_t>(MutateInteger(old, random)));
      break;
    case FieldDescriptor::CPPTYPE_INT64:
      GAITSHELF_CHANGE(Int64, place, MutateInteger(old, random));
      break;
    case FieldDescriptor::CPPTYPE_BOOL:
      GAITSHELF_CHANGE(Bool, place, !old);
      break;
    case FieldDescriptor::CPPTYPE_ENUM:
      // One more than there are: a choice of a newer program.
      GAITSHELF_CHANGE(
          EnumValue,
          place,
          (old + 1 + Below(3, random)) % (place.field->enum_type()->value_count() + 1));
      break;
    case FieldDescriptor::CPPTYPE_STRING:
      GAITSHELF_CHANGE(
          String, place, MutateText(old, place.field->type() == FieldDescriptor::TYPE_STRING));
      break;
    default:
      break;
  }
}
#undef GAITSHELF_CHANGE

// Returns another message of the same type, or null.
const Message* FindAlike(const std::vector<Message*>& all,
                         const google::protobuf::Descriptor* type,
                         std::minstd_rand* random) {
  const int start = Below(static_cast<int>(all.size()), random);
  for (std::size_t i = 0; i < all.size(); ++i) {
    const Message* candidate = all[(static_cast<std::size_t>(start) + i) % all.size()];
    if (candidate->GetDescriptor() == type) {
      return candidate;
    }
  }
  return nullptr;
}

// A message is put in, taken out, or made like another one.
void MutatePart(const Place& place, const std::vector<Message*>& all, std::minstd_rand* random) {
  const Reflection& reflection = *place.owner->GetReflection();
  if (place.index < 0 && Below(3, random) == 0) {
    reflection.ClearField(place.owner, place.field);
    return;
  }
  const Message* alike = FindAlike(all, place.field->message_type(), random);
  if (alike == nullptr) {
    if (place.index < 0) {
      reflection.MutableMessage(place.owner, place.field);
    }
    return;
  }
  const std::string copy = alike->SerializeAsString();
  Message* part = place.index < 0
                      ? reflection.MutableMessage(place.owner, place.field)
                      : reflection.MutableRepeatedMessage(place.owner, place.field, place.index);
  part->ParseFromString(copy);
}

void AddElement(const Place& place) {
  const Reflection& reflection = *place.owner->GetReflection();
  switch (place.field->cpp_type()) {
    case FieldDescriptor::CPPTYPE_MESSAGE:
      reflection.AddMessage(place.owner, place.field);
      break;
    case FieldDescriptor::CPPTYPE_DOUBLE:
      reflection.AddDouble(place.owner, place.field, 0.0);
      break;
    case FieldDescriptor::CPPTYPE_STRING:
      reflection.AddString(place.owner, place.field, "");
      break;
    default:
      break;
  }
}

// Changes how many elements there are, or their order; true when it was done.
bool MutateList(const Place& place, std::minstd_rand* random) {
  const Reflection& reflection = *place.owner->GetReflection();
  const int size = reflection.FieldSize(*place.owner, place.field);
  switch (Below(4, random)) {
    case 0:
      AddElement(place);
      return true;
    case 1:
      if (size > 0) {
        reflection.RemoveLast(place.owner, place.field);
      }
      return size > 0;
    case 2:
      if (size > 1) {
        reflection.SwapElements(place.owner, place.field, Below(size, random), Below(size, random));
      }
      return size > 1;
    default:
      return false;
  }
}

}  // namespace

void MutateMessage(Message* message, std::minstd_rand* random) {
  std::vector<Message*> all;
  GatherMessages(message, &all);
  Message* const owner = all[static_cast<std::size_t>(Below(static_cast<int>(all.size()), random))];
  const int field_count = owner->GetDescriptor()->field_count();
  if (field_count == 0) {
    return;
  }
  Place place{owner, owner->GetDescriptor()->field(Below(field_count, random)), -1};
  if (place.field->is_repeated()) {
    if (MutateList(place, random)) {
      return;
    }
    const int size = owner->GetReflection()->FieldSize(*owner, place.field);
    if (size == 0) {
      AddElement(place);
      return;
    }
    place.index = Below(size, random);
  }
  if (place.field->cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE) {
    MutatePart(place, all, random);
  } else {
    MutateValue(place, random);
  }
}

std::size_t MutateBytes(Message* message,
                        std::uint8_t* bytes,
                        std::size_t size,
                        std::size_t most,
                        unsigned int seed) {
  // Of bytes that are no message protobuf would write a line each time.
  google::protobuf::SetLogHandler(nullptr);
  std::minstd_rand random(seed);
  if (!message->ParseFromArray(bytes, static_cast<int>(size)) || Below(kBytesEvery, &random) == 0) {
    return LLVMFuzzerMutate(bytes, size, most);
  }
  const int changes = 1 + Below(4, &random);
  for (int i = 0; i < changes; ++i) {
    MutateMessage(message, &random);
  }
  if (message->ByteSizeLong() > most) {
    return LLVMFuzzerMutate(bytes, size, most);
  }
  const std::string changed = message->SerializeAsString();
  std::copy(changed.begin(), changed.end(), bytes);
  return changed.size();
}

}  // namespace gaitshelf::fuzz
