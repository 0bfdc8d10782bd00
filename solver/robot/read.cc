#include "solver/robot/read.h"

#include <google/protobuf/io/tokenizer.h>
#include <google/protobuf/text_format.h>

#include "absl/strings/str_cat.h"

namespace gaitshelf::solver {
namespace {

// Gathers what the parser reports, a line each; places count from 1.
class Faults final : public google::protobuf::io::ErrorCollector {
 public:
  void AddError(int line, int column, const std::string& message) override {
    absl::StrAppend(&text_,
                    text_.empty() ? "" : "\n",
                    "line ",
                    line + 1,
                    ", column ",
                    column + 1,
                    ": ",
                    message);
  }
  // Unknown fields come as warnings, so that the parser goes on; they are faults all the same.
  void AddWarning(int line, int column, const std::string& message) override {
    AddError(line, column, message);
  }
  const std::string& text() const { return text_; }

 private:
  std::string text_;
};

template <typename Message>
absl::StatusOr<Message> ReadText(const std::string& text) {
  Faults faults;
  google::protobuf::TextFormat::Parser parser;
  parser.RecordErrorsTo(&faults);
  parser.AllowUnknownField(true);
  Message message;
  if (!parser.ParseFromString(text, &message) || !faults.text().empty()) {
    return absl::InvalidArgumentError(faults.text());
  }
  return message;
}

}  // namespace

absl::StatusOr<v1::Robot> ReadRobotText(const std::string& text) {
  return ReadText<v1::Robot>(text);
}

absl::StatusOr<v1::Surface> ReadSurfaceText(const std::string& text) {
  return ReadText<v1::Surface>(text);
}

}  // namespace gaitshelf::solver
