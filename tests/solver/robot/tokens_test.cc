#include "solver/robot/tokens.h"

#include <limits>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace gaitshelf::solver {
namespace {

using testing::ElementsAre;

std::vector<std::string> Words(const std::string& text) {
  std::vector<std::string> words;
  for (const Token& token : CutTokens(text, 1000).list) {
    words.push_back(token.text);
  }
  return words;
}

TEST(TokensTest, AreNamesNumbersTextAndSigns) {
  EXPECT_THAT(Words("a: -1.5e-3 # note\nb { c: \"x y\" }"),
              ElementsAre("a", ":", "-", "1.5e-3", "b", "{", "c", ":", "\"x y\"", "}", ""));
}

TEST(TokensTest, KnowTheirPlacesFromOne) {
  const Tokens tokens = CutTokens("a: 1\n  b: 2", 1000);
  EXPECT_EQ(tokens.list[3].text, "b");
  EXPECT_EQ(tokens.list[3].line, 2);
  EXPECT_EQ(tokens.list[3].column, 3);
}

TEST(TokensTest, CutAUnitOffItsNumber) {
  EXPECT_THAT(Words("a: 1.9g"), ElementsAre("a", ":", "1.9", "g", ""));
}

TEST(TokensTest, TellOfTextWithoutAnEnd) {
  EXPECT_FALSE(CutTokens("name: \"weevil\nbody {}", 1000).faults.empty());
}

TEST(TokensTest, AreShownEscapedAndCut) {
  EXPECT_EQ(ShownWord("mass_kg"), "mass_kg");
  EXPECT_EQ(ShownWord("\x80"), "\\200");
  EXPECT_EQ(ShownWord(std::string(81, 'a')), std::string(80, 'a') + "...");
  EXPECT_EQ(Shown(CutTokens("", 10).list[0]), "the end of the text");
  EXPECT_EQ(Shown(CutTokens("'a'", 10).list[0]), "\"a\"");
}

TEST(TokensTest, AreNumbersOfBaseTen) {
  const auto number = [](const std::string& text) {
    double value = -1.0;
    return ParseNumber(CutTokens(text, 10).list[0], &value) ? value : -1.0;
  };
  EXPECT_EQ(number("1.5e-3"), 1.5e-3);
  EXPECT_EQ(number("3f"), 3.0);
  EXPECT_EQ(number("0.5"), 0.5);
  EXPECT_EQ(number("Inf"), std::numeric_limits<double>::infinity());
  for (const char* text : {"010", "0x10", "heavy", "'1'", "?"}) {
    EXPECT_EQ(number(text), -1.0) << text;
  }
}

TEST(TokensTest, StopAtTheMostWordsAndFaults) {
  EXPECT_EQ(CutTokens("a b c d", 3).list.size(), 4U);  // and the end
  EXPECT_EQ(CutTokens("a b c", 3).list.size(), 4U);
  std::string open_quotes;
  for (int i = 0; i < 200; ++i) {
    open_quotes += "\"a\n";
  }
  EXPECT_EQ(CutTokens(open_quotes, 1000).faults.size(), kMostTokenFaults);
}

TEST(TokensTest, AreOnlyTheEndForAnEmptyText) { EXPECT_THAT(Words(""), ElementsAre("")); }

TEST(UnquotedTextTest, ResolvesEscapes) {
  EXPECT_EQ(UnquotedText({TokenKind::kText, "\"a\\n\\x41\\101\"", 1, 1}), "a\nAA");
}

}  // namespace
}  // namespace gaitshelf::solver
