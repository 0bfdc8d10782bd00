#include "service/log/write_events.h"

#include <string>
#include <utility>

#include <google/protobuf/stubs/logging.h>

#include "absl/time/clock.h"
#include "service/log/limited_log.h"

namespace gaitshelf::service {
namespace {

constexpr int kProtobufLinesPerSecond = 10;

LimitedLog* protobuf_log = nullptr;  // kept for messages that come while the program ends

void TellOfProtobuf(google::protobuf::LogLevel level,
                    const char* /*file*/,
                    int /*line*/,
                    const std::string& message) {
  protobuf_log->Write(
      {.level = level == google::protobuf::LOGLEVEL_FATAL ? LogLevel::kError : LogLevel::kWarning,
       .what = "protobuf complains",
       .fields = {{"text", message}}});
}

}  // namespace

EventLog WriteEventsTo(std::FILE* file, LogFormat format) {
  return [file, format](const LogEvent& event) {
    // In one piece: workers write into the same file.
    const std::string line = LogLine(event, format, absl::Now()) + "\n";
    std::fwrite(line.data(), 1, line.size(), file);
    std::fflush(file);
  };
}

void KeepProtobufLog(EventLog log) {
  google::protobuf::SetLogHandler(nullptr);
  delete protobuf_log;
  protobuf_log = nullptr;
  if (log) {
    protobuf_log = new LimitedLog(std::move(log), kProtobufLinesPerSecond);
    google::protobuf::SetLogHandler(&TellOfProtobuf);
  }
}

}  // namespace gaitshelf::service
