// Lines of a log: what happened in words that are always the same, and its facts as fields, so that
// people can read it and programs can search it. Every line of the server and its workers is one of
// these; where it goes is up to whoever starts them (write_events.h).
#ifndef GAITSHELF_SERVICE_LOG_EVENT_H_
#define GAITSHELF_SERVICE_LOG_EVENT_H_

#include <cmath>
#include <functional>
#include <optional>
#include <string>
#include <type_traits>
#include <vector>

#include "absl/strings/str_cat.h"
#include "absl/strings/string_view.h"
#include "absl/time/time.h"

namespace gaitshelf::service {

enum class LogLevel {
  kInfo,     // what is as it should be
  kWarning,  // what the program copes with, and somebody may want to look at
  kError,    // what somebody must look at
};

// A fact. Text may come from anywhere, and may be no text at all.
struct LogField {
  LogField(const char* field_key, absl::string_view text) : key(field_key), value(text) {}
  template <typename Number>
  requires std::is_arithmetic_v<Number> LogField(const char* field_key, Number number)
      : key(field_key),
        value(absl::StrCat(number)),
        is_number(std::isfinite(static_cast<double>(number))) {}

  const char* key;  // a-z and _; never time, level or event, which every line has
  std::string value;
  bool is_number = false;
};

struct LogEvent {
  LogLevel level = LogLevel::kInfo;
  const char* what = "";  // a short phrase of ours; what it is about is in the fields
  std::vector<LogField> fields{};
};

// Takes events from any thread.
using EventLog = std::function<void(const LogEvent&)>;

// Hands an event to a log that may be absent.
void Tell(const EventLog& log, const LogEvent& event);

// One object of JSON a line, or words key=value.
enum class LogFormat { kLogfmt, kJson };

// Returns the format of a name, "logfmt" or "json".
std::optional<LogFormat> ParseLogFormat(absl::string_view name);
const char* LogFormatName(LogFormat format);

// Returns the line of an event, without a newline at its end or, whatever the fields hold, within:
// time (UTC, milliseconds), level, event and the fields, in this order. Control characters,
// quotes and backslashes are written as in JSON, in both formats; bytes that are no UTF-8 become
// U+FFFD, and of a longer text there are the first 1000 bytes and how many it had. In logfmt a
// value stands in quotes when it is empty or holds any of these, a space or an equals sign.
std::string LogLine(const LogEvent& event, LogFormat format, absl::Time time);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LOG_EVENT_H_
