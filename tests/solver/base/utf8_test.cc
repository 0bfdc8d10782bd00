#include "solver/base/utf8.h"

#include <string>

#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

// First and last code points of each length, and neighbours that RFC 3629 section 3 and 4 exclude.
TEST(Utf8Test, AcceptsWhatTheStandardDoes) {
  for (const std::string& text : {std::string("plain"),
                                  std::string("\xC2\x80"),
                                  std::string("\xDF\xBF"),
                                  std::string("\xE0\xA0\x80"),
                                  std::string("\xED\x9F\xBF"),
                                  std::string("\xEE\x80\x80"),
                                  std::string("\xF0\x90\x80\x80"),
                                  std::string("\xF4\x8F\xBF\xBF")}) {
    EXPECT_TRUE(IsUtf8(text)) << testing::PrintToString(text);
  }
}

TEST(Utf8Test, RejectsOverlongSurrogateCutAndTooGreat) {
  for (const std::string& text : {std::string("\x80"),
                                  std::string("\xC1\xBF"),
                                  std::string("\xE0\x9F\xBF"),
                                  std::string("\xED\xA0\x80"),
                                  std::string("\xF0\x8F\xBF\xBF"),
                                  std::string("\xF4\x90\x80\x80"),
                                  std::string("\xF5\x80\x80\x80"),
                                  std::string("\xE2\x82"),
                                  std::string("\xE2\x28\xA1")}) {
    EXPECT_FALSE(IsUtf8(text)) << testing::PrintToString(text);
  }
}

TEST(Utf8Test, ReplacesBytesThatBelongToNoCharacter) {
  EXPECT_EQ(ToUtf8(""), "");
  EXPECT_EQ(ToUtf8("plain \xC3\xA4 \xE2\x82\xAC"), "plain \xC3\xA4 \xE2\x82\xAC");
  EXPECT_EQ(ToUtf8("a\xFF\xC3"), "a\xEF\xBF\xBD\xEF\xBF\xBD");
  // A character that is cut short takes nothing of what follows with it.
  EXPECT_EQ(ToUtf8("\xE2\x82z"), "\xEF\xBF\xBD\xEF\xBF\xBDz");
}

}  // namespace
}  // namespace gaitshelf::solver
