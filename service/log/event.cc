#include "service/log/event.h"

#include <cstddef>

#include <google/protobuf/util/json_util.h>
#include <google/protobuf/wrappers.pb.h>

#include "absl/strings/str_join.h"
#include "solver/base/utf8.h"

namespace gaitshelf::service {
namespace {

// A client may send a megabyte where a name belongs.
constexpr std::size_t kMostTextBytes = 1000;

const char* LevelName(LogLevel level) {
  switch (level) {
    case LogLevel::kInfo:
      return "info";
    case LogLevel::kWarning:
      return "warning";
    case LogLevel::kError:
      return "error";
  }
  return "error";
}

// Returns the text as JSON has it, with its quotes. Of characters that steer a terminal or the
// direction of writing there is none.
std::string Quoted(absl::string_view text) {
  google::protobuf::StringValue value;
  value.set_value(solver::ToUtf8(text.substr(0, kMostTextBytes)));
  if (text.size() > kMostTextBytes) {
    absl::StrAppend(value.mutable_value(), "... (", text.size(), " bytes)");
  }
  std::string quoted;
  // Fails for a text that is no UTF-8 only.
  return google::protobuf::util::MessageToJsonString(value, &quoted).ok() ? quoted : "\"\"";
}

// Returns what a reader of logfmt takes for the same text: bare if he can.
std::string QuotedIfNeeded(absl::string_view text) {
  std::string quoted = Quoted(text);
  const bool is_plain = !text.empty() && quoted.size() == text.size() + 2 &&
                        text.find_first_of(" =") == absl::string_view::npos &&
                        absl::string_view(quoted).substr(1, text.size()) == text;
  return is_plain ? std::string(text) : quoted;
}

std::string JsonLine(const std::vector<LogField>& fields) {
  return absl::StrCat(
      "{",
      absl::StrJoin(
          fields,
          ",",
          [](std::string* line, const LogField& field) {
            absl::StrAppend(
                line, "\"", field.key, "\":", field.is_number ? field.value : Quoted(field.value));
          }),
      "}");
}

std::string LogfmtLine(const std::vector<LogField>& fields) {
  return absl::StrJoin(fields, " ", [](std::string* line, const LogField& field) {
    absl::StrAppend(line, field.key, "=", QuotedIfNeeded(field.value));
  });
}

}  // namespace

void Tell(const EventLog& log, const LogEvent& event) {
  if (log) {
    log(event);
  }
}

std::optional<LogFormat> ParseLogFormat(absl::string_view name) {
  for (const LogFormat format : {LogFormat::kLogfmt, LogFormat::kJson}) {
    if (name == LogFormatName(format)) {
      return format;
    }
  }
  return std::nullopt;
}

const char* LogFormatName(LogFormat format) {
  return format == LogFormat::kJson ? "json" : "logfmt";
}

std::string LogLine(const LogEvent& event, LogFormat format, absl::Time time) {
  std::vector<LogField> fields = {
      {"time", absl::FormatTime("%Y-%m-%dT%H:%M:%E3SZ", time, absl::UTCTimeZone())},
      {"level", LevelName(event.level)},
      {"event", event.what}};
  fields.insert(fields.end(), event.fields.begin(), event.fields.end());
  return format == LogFormat::kJson ? JsonLine(fields) : LogfmtLine(fields);
}

}  // namespace gaitshelf::service
