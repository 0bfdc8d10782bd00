#include "service/log/write_events.h"

#include <cstdio>
#include <string>
#include <thread>
#include <vector>

#include <gmock/gmock.h>
#include <google/protobuf/wrappers.pb.h>
#include <gtest/gtest.h>

#include "absl/strings/str_split.h"
#include "tests/support/log_lines.h"

namespace gaitshelf::service {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::MatchesRegex;

class WriteEventsTest : public testing::Test {
 protected:
  ~WriteEventsTest() override { std::fclose(file_); }

  std::vector<std::string> Lines() const {
    std::rewind(file_);
    std::string text;
    for (int c = std::fgetc(file_); c != EOF; c = std::fgetc(file_)) {
      text += static_cast<char>(c);
    }
    return absl::StrSplit(text, '\n');
  }

  std::FILE* const file_ = std::tmpfile();
};

TEST_F(WriteEventsTest, WritesALineForEachInTheFormatThatIsAskedFor) {
  Tell(WriteEventsTo(file_, LogFormat::kLogfmt), {.what = "first", .fields = {{"count", 1}}});
  Tell(WriteEventsTo(file_, LogFormat::kJson), {.what = "second\n"});
  EXPECT_THAT(
      Lines(),
      ElementsAre(
          MatchesRegex("time=2[0-9-]+T[0-9:]+[.][0-9]+Z level=info event=first count=1"),
          MatchesRegex("\\{\"time\":\"2[^\"]+Z\",\"level\":\"info\",\"event\":\"second\\\\n\"\\}"),
          ""));
}

TEST_F(WriteEventsTest, KeepsLinesOfSeveralThreadsWhole) {
  const EventLog log = WriteEventsTo(file_, LogFormat::kLogfmt);
  std::vector<std::thread> threads;
  for (int i = 0; i < 4; ++i) {
    threads.emplace_back([&log] {
      for (int k = 0; k < 100; ++k) {
        log({.what = "x", .fields = {{"text", std::string(900, 'n')}, {"end", "here"}}});
      }
    });
  }
  for (std::thread& thread : threads) {
    thread.join();
  }
  const std::vector<std::string> lines = Lines();
  EXPECT_EQ(lines.size(), 401U);
  for (std::size_t i = 0; i + 1 < lines.size(); ++i) {
    EXPECT_THAT(lines[i], MatchesRegex("time=[^ ]+ level=info event=x text=n+ end=here"));
  }
}

TEST(KeepProtobufLogTest, TellsOfRequestsThatAreNoText) {
  test::LogLines lines;
  KeepProtobufLog(lines.log());
  google::protobuf::StringValue value;
  // Field 1 with one byte that is no UTF-8.
  EXPECT_FALSE(value.ParseFromString("\x0A\x01\xFF"));
  EXPECT_THAT(
      lines.lines(),
      ElementsAre(HasSubstr("level=warning event=\"protobuf complains\" text=\"String field "
                            "'google.protobuf.StringValue.value'")));
  KeepProtobufLog({});
}

}  // namespace
}  // namespace gaitshelf::service
