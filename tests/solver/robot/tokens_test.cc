#include "solver/robot/tokens.h"

#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

using testing::ElementsAre;

std::vector<std::string> Words(const std::string& text) {
  std::vector<std::string> words;
  for (const Token& token : CutTokens(text).list) {
    words.push_back(token.text);
  }
  return words;
}

TEST(TokensTest, AreNamesNumbersTextAndSigns) {
  EXPECT_THAT(Words("a: -1.5e-3 # note\nb { c: \"x y\" }"),
              ElementsAre("a", ":", "-", "1.5e-3", "b", "{", "c", ":", "\"x y\"", "}", ""));
}

TEST(TokensTest, KnowTheirPlacesFromOne) {
  const Tokens tokens = CutTokens("a: 1\n  b: 2");
  EXPECT_EQ(tokens.list[3].text, "b");
  EXPECT_EQ(tokens.list[3].line, 2);
  EXPECT_EQ(tokens.list[3].column, 3);
}

TEST(TokensTest, CutAUnitOffItsNumber) {
  EXPECT_THAT(Words("a: 1.9g"), ElementsAre("a", ":", "1.9", "g", ""));
}

TEST(TokensTest, TellOfTextWithoutAnEnd) {
  EXPECT_FALSE(CutTokens("name: \"weevil\nbody {}").faults.empty());
}

TEST(TokensTest, AreOnlyTheEndForAnEmptyText) { EXPECT_THAT(Words(""), ElementsAre("")); }

TEST(UnquotedTextTest, ResolvesEscapes) {
  EXPECT_EQ(UnquotedText({TokenKind::kText, "\"a\\n\\x41\\101\"", 1, 1}), "a\nAA");
}

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

}  // namespace
}  // namespace gaitshelf::solver
