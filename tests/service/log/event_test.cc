#include "service/log/event.h"

#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <string>

#include <gmock/gmock.h>
#include <google/protobuf/empty.pb.h>
#include <google/protobuf/util/json_util.h>
#include <google/protobuf/wrappers.pb.h>
#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

using testing::EndsWith;
using testing::HasSubstr;

const absl::Time kTime = absl::FromUnixMillis(1795810271042);

std::string Logfmt(const LogEvent& event) { return LogLine(event, LogFormat::kLogfmt, kTime); }
std::string Json(const LogEvent& event) { return LogLine(event, LogFormat::kJson, kTime); }

// What a reader of JSON finds in the one field of a line.
std::string JsonOf(const std::string& text) {
  const std::string line = Json({.what = "x", .fields = {{"text", text}}});
  google::protobuf::util::JsonParseOptions options;
  options.ignore_unknown_fields = true;
  google::protobuf::Empty object;
  EXPECT_TRUE(google::protobuf::util::JsonStringToMessage(line, &object, options).ok()) << line;
  const std::size_t start = line.find("\"text\":") + 7;
  google::protobuf::StringValue value;
  EXPECT_TRUE(google::protobuf::util::JsonStringToMessage(
                  line.substr(start, line.size() - start - 1), &value)
                  .ok())
      << line;
  return value.value();
}

std::string LogfmtOf(const std::string& text) {
  const std::string line = Logfmt({.what = "x", .fields = {{"text", text}}});
  return line.substr(line.find("text=") + 5);
}

TEST(LogLineTest, HasTimeLevelEventAndFieldsInThisOrder) {
  const LogEvent event{
      .level = LogLevel::kWarning,
      .what = "job has lost its worker",
      .fields = {{"job", "j-7"}, {"attempt", 2}, {"away_s", 0.25}, {"reason", "signal 9"}}};
  EXPECT_EQ(Logfmt(event),
            "time=2026-11-27T20:11:11.042Z level=warning event=\"job has lost its worker\" job=j-7 "
            "attempt=2 away_s=0.25 reason=\"signal 9\"");
  EXPECT_EQ(Json(event),
            "{\"time\":\"2026-11-27T20:11:11.042Z\",\"level\":\"warning\","
            "\"event\":\"job has lost its worker\",\"job\":\"j-7\",\"attempt\":2,"
            "\"away_s\":0.25,\"reason\":\"signal 9\"}");
  EXPECT_THAT(Logfmt({.what = "x"}), EndsWith("level=info event=x"));
  EXPECT_THAT(Logfmt({.level = LogLevel::kError, .what = "x"}), HasSubstr("level=error"));
}

TEST(LogLineTest, QuotesInLogfmtWhatWouldNotBeOneWord) {
  for (const char* plain : {"j-7", "/package.Service/Call", "http://127.0.0.1:80/metrics", "'"}) {
    EXPECT_EQ(LogfmtOf(plain), plain);
  }
  EXPECT_EQ(LogfmtOf(""), "\"\"");
  EXPECT_EQ(LogfmtOf("two words"), "\"two words\"");
  EXPECT_EQ(LogfmtOf("a=b"), "\"a=b\"");
  EXPECT_EQ(LogfmtOf("say \"no\""), "\"say \\\"no\\\"\"");
  EXPECT_EQ(LogfmtOf("\"no\""), "\"\\\"no\\\"\"");
  EXPECT_EQ(LogfmtOf("a\\b"), "\"a\\\\b\"");
  EXPECT_EQ(LogfmtOf("\xC3\xA4\xE2\x82\xAC"), "\xC3\xA4\xE2\x82\xAC");
}

TEST(LogLineTest, NoTextBreaksALineOrSteersATerminal) {
  std::string hostile = "x\nlevel=error\r\t\x1B[2J";
  hostile += '\0';
  hostile +=
      "\x7F\xC2\x9B\xE2\x80\xA8\xE2\x80\xAE";  // DEL, CSI, a line separator, a turn to the left
  for (const std::string& line : {Logfmt({.what = "x", .fields = {{"text", hostile}}}),
                                  Json({.what = "x", .fields = {{"text", hostile}}})}) {
    for (const char c : line) {
      const auto byte = static_cast<unsigned char>(c);
      EXPECT_TRUE(byte >= 0x20 && byte < 0x7F) << static_cast<int>(byte) << " in " << line;
    }
    EXPECT_THAT(line, HasSubstr("x\\nlevel"));
  }
  EXPECT_EQ(JsonOf(hostile), hostile);
}

TEST(LogLineTest, TakesBytesThatAreNoText) {
  EXPECT_EQ(JsonOf("a\xFFz"), "a\xEF\xBF\xBDz");
  EXPECT_EQ(LogfmtOf("a\xFFz"), "\"a\xEF\xBF\xBDz\"");
  std::string all;
  for (int byte = 0; byte < 256; ++byte) {
    all += static_cast<char>(byte);
  }
  EXPECT_THAT(JsonOf(all), EndsWith("\xEF\xBF\xBD"));
  EXPECT_THAT(LogfmtOf(all), EndsWith("\xEF\xBF\xBD\""));
}

TEST(LogLineTest, ShortensATextThatFillsTheLog) {
  const std::string text = JsonOf(std::string(1 << 20, 'n'));
  EXPECT_EQ(text, std::string(1000, 'n') + "... (1048576 bytes)");
  EXPECT_EQ(JsonOf(std::string(1000, 'n')), std::string(1000, 'n'));
}

TEST(LogLineTest, WritesNumbersThatJsonHasNotAsText) {
  const double nothing = std::numeric_limits<double>::quiet_NaN();
  EXPECT_THAT(Json({.what = "x", .fields = {{"mean_s", nothing}}}),
              EndsWith(",\"mean_s\":\"nan\"}"));
  EXPECT_THAT(Json({.what = "x", .fields = {{"bytes", std::int64_t{1} << 40}}}),
              EndsWith(",\"bytes\":1099511627776}"));
}

TEST(LogFormatTest, IsReadByItsName) {
  for (const LogFormat format : {LogFormat::kLogfmt, LogFormat::kJson}) {
    EXPECT_EQ(ParseLogFormat(LogFormatName(format)), format);
  }
  EXPECT_EQ(ParseLogFormat("JSON"), std::nullopt);
  EXPECT_EQ(ParseLogFormat(""), std::nullopt);
}

TEST(EventLogTest, MayBeAbsent) {
  Tell({}, {.what = "nobody hears this"});
  int heard = 0;
  Tell([&heard](const LogEvent&) { ++heard; }, {.what = "somebody does"});
  EXPECT_EQ(heard, 1);
}

}  // namespace
}  // namespace gaitshelf::service
