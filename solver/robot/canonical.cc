#include "solver/robot/canonical.h"

#include <algorithm>
#include <array>
#include <cstdint>
#include <cstring>
#include <vector>

#include <google/protobuf/descriptor.h>
#include <openssl/evp.h>

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/string_view.h"

namespace gaitshelf::solver {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;
using google::protobuf::Reflection;

std::string DoubleText(double value) {
  const double normal = value == 0.0 ? 0.0 : value;  // -0 equals 0
  std::uint64_t bits = 0;
  std::memcpy(&bits, &normal, sizeof bits);
  return absl::StrCat(absl::Hex(bits, absl::kZeroPad16));
}

std::string TextText(const std::string& text) {
  return absl::StrCat("\"", absl::CEscape(text), "\"");
}

// Value of a field that is not repeated and not a message. Unsigned types and float do not occur
// (proto_lint).
std::string ValueText(const Message& message, const FieldDescriptor& field) {
  const Reflection& reflection = *message.GetReflection();
  switch (field.cpp_type()) {
    case FieldDescriptor::CPPTYPE_DOUBLE:
      return DoubleText(reflection.GetDouble(message, &field));
    case FieldDescriptor::CPPTYPE_INT32:
      return absl::StrCat(reflection.GetInt32(message, &field));
    case FieldDescriptor::CPPTYPE_INT64:
      return absl::StrCat(reflection.GetInt64(message, &field));
    case FieldDescriptor::CPPTYPE_BOOL:
      return reflection.GetBool(message, &field) ? "1" : "0";
    case FieldDescriptor::CPPTYPE_ENUM:
      return absl::StrCat(reflection.GetEnumValue(message, &field));
    default:
      return TextText(reflection.GetString(message, &field));
  }
}

std::string ElementText(const Message& message, const FieldDescriptor& field, int index) {
  const Reflection& reflection = *message.GetReflection();
  switch (field.cpp_type()) {
    case FieldDescriptor::CPPTYPE_DOUBLE:
      return DoubleText(reflection.GetRepeatedDouble(message, &field, index));
    case FieldDescriptor::CPPTYPE_INT32:
      return absl::StrCat(reflection.GetRepeatedInt32(message, &field, index));
    case FieldDescriptor::CPPTYPE_INT64:
      return absl::StrCat(reflection.GetRepeatedInt64(message, &field, index));
    case FieldDescriptor::CPPTYPE_BOOL:
      return reflection.GetRepeatedBool(message, &field, index) ? "1" : "0";
    case FieldDescriptor::CPPTYPE_ENUM:
      return absl::StrCat(reflection.GetRepeatedEnumValue(message, &field, index));
    default:
      return TextText(reflection.GetRepeatedString(message, &field, index));
  }
}

bool IsDefault(const std::string& value) {
  return value == "0" || value == "\"\"" || value == "0000000000000000";
}

// Message types do not refer to themselves, so the recursion is as deep as they are.
// NOLINTBEGIN(misc-no-recursion)
void AppendMessage(const Message& message,
                   const std::string& prefix,
                   const std::set<std::string>& left_out,
                   std::string* out);

void AppendPart(const Message& part, const std::string& path, std::string* out) {
  absl::StrAppend(out, path, "{\n");
  AppendMessage(part, path + ".", {}, out);
}

void AppendField(const Message& message,
                 const FieldDescriptor& field,
                 const std::string& path,
                 std::string* out) {
  const Reflection& reflection = *message.GetReflection();
  const bool is_message = field.cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE;
  if (!field.is_repeated()) {
    if (is_message) {
      AppendPart(reflection.GetMessage(message, &field), path, out);
    } else if (const std::string value = ValueText(message, field); !IsDefault(value)) {
      absl::StrAppend(out, path, "=", value, "\n");
    }
    return;
  }
  for (int i = 0; i < reflection.FieldSize(message, &field); ++i) {
    const std::string element_path = absl::StrCat(path, "[", i, "]");
    if (is_message) {
      AppendPart(reflection.GetRepeatedMessage(message, &field, i), element_path, out);
    } else {
      absl::StrAppend(out, element_path, "=", ElementText(message, field, i), "\n");
    }
  }
}

void AppendMessage(const Message& message,
                   const std::string& prefix,
                   const std::set<std::string>& left_out,
                   std::string* out) {
  std::vector<const FieldDescriptor*> fields;
  message.GetReflection()->ListFields(message, &fields);
  std::sort(fields.begin(), fields.end(), [](const auto* a, const auto* b) {
    return a->number() < b->number();
  });
  for (const FieldDescriptor* field : fields) {
    if (left_out.count(field->name()) == 0) {
      AppendField(message, *field, absl::StrCat(prefix, field->number()), out);
    }
  }
}
// NOLINTEND(misc-no-recursion)

}  // namespace

std::string CanonicalText(const Message& message, const std::set<std::string>& left_out) {
  std::string text;
  AppendMessage(message, "", left_out, &text);
  return text;
}

std::string Sha256Hex(const std::string& bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int digest_size = 0;
  // Fails only when the library cannot give SHA-256 at all or memory is out; then there is no name
  // to give, and going on would mix up descriptions.
  if (EVP_Digest(bytes.data(), bytes.size(), digest.data(), &digest_size, EVP_sha256(), nullptr) !=
      1) {
    std::abort();
  }
  return absl::BytesToHexString(
      absl::string_view(reinterpret_cast<const char*>(digest.data()), digest_size));
}

}  // namespace gaitshelf::solver
