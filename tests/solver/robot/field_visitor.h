// Goes through the fields of a message by reflection, so that tests cover a new field without being
// changed.
#ifndef GAITSHELF_TESTS_SOLVER_ROBOT_FIELD_VISITOR_H_
#define GAITSHELF_TESTS_SOLVER_ROBOT_FIELD_VISITOR_H_

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include <google/protobuf/descriptor.h>
#include <google/protobuf/message.h>

#include "absl/strings/str_cat.h"

namespace gaitshelf::test {

// A field inside a message that is being changed.
struct FieldPlace {
  google::protobuf::Message* owner;
  const google::protobuf::FieldDescriptor* field;
  std::string path;

  // "Body.mass_kg"
  std::string type_name() const {
    return absl::StrCat(field->containing_type()->name(), ".", field->name());
  }
  bool is_number() const {
    return field->cpp_type() == google::protobuf::FieldDescriptor::CPPTYPE_DOUBLE;
  }
  // Sets a number, or the first number of an array.
  void SetNumber(double value) const {
    if (field->is_repeated()) {
      owner->GetReflection()->SetRepeatedDouble(owner, field, 0, value);
    } else {
      owner->GetReflection()->SetDouble(owner, field, value);
    }
  }
  // Path of what SetNumber sets.
  std::string number_path() const { return field->is_repeated() ? path + "[0]" : path; }
  void Clear() const { owner->GetReflection()->ClearField(owner, field); }
};

// Calls `visit` for every field of the message and of its parts that are present, parts first seen
// from outside; a part that the visit removes is not entered.
inline void VisitFields(google::protobuf::Message* message,
                        const std::string& prefix,
                        const std::function<void(const FieldPlace&)>& visit) {
  using google::protobuf::FieldDescriptor;
  const google::protobuf::Reflection& reflection = *message->GetReflection();
  for (int i = 0; i < message->GetDescriptor()->field_count(); ++i) {
    const FieldDescriptor* field = message->GetDescriptor()->field(i);
    const std::string path = prefix + field->name();
    visit({message, field, path});
    if (field->cpp_type() != FieldDescriptor::CPPTYPE_MESSAGE) {
      continue;
    }
    if (!field->is_repeated()) {
      if (reflection.HasField(*message, field)) {
        VisitFields(reflection.MutableMessage(message, field), path + ".", visit);
      }
      continue;
    }
    for (int k = 0; k < reflection.FieldSize(*message, field); ++k) {
      VisitFields(reflection.MutableRepeatedMessage(message, field, k),
                  absl::StrCat(path, "[", k, "]."),
                  visit);
    }
  }
}

// Returns the paths of all fields that `wanted` accepts.
inline std::vector<std::string> PathsOf(const google::protobuf::Message& message,
                                        const std::function<bool(const FieldPlace&)>& wanted) {
  const std::unique_ptr<google::protobuf::Message> copy(message.New());
  copy->CopyFrom(message);
  std::vector<std::string> paths;
  VisitFields(copy.get(), "", [&](const FieldPlace& place) {
    if (wanted(place)) {
      paths.push_back(place.path);
    }
  });
  return paths;
}

// Changes the field at a path.
inline void ChangeField(google::protobuf::Message* message,
                        const std::string& path,
                        const std::function<void(const FieldPlace&)>& change) {
  VisitFields(message, "", [&](const FieldPlace& place) {
    if (place.path == path) {
      change(place);
    }
  });
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SOLVER_ROBOT_FIELD_VISITOR_H_
