// The words of a protobuf text, with their places.
#ifndef GAITSHELF_SOLVER_ROBOT_TOKENS_H_
#define GAITSHELF_SOLVER_ROBOT_TOKENS_H_

#include <cstddef>
#include <string>
#include <vector>

#include "absl/strings/string_view.h"

namespace gaitshelf::solver {

enum class TokenKind { kName, kNumber, kText, kSign, kEnd };

// Line and column count from 1.
struct Token {
  TokenKind kind = TokenKind::kEnd;
  std::string text;  // as written; of kText with its quotes
  int line = 1;
  int column = 1;
};

// What could not be made a word of.
struct TokenFault {
  int line = 1;
  int column = 1;
  std::string problem;
};

struct Tokens {
  std::vector<Token> list;         // ends with a kEnd
  std::vector<TokenFault> faults;  // the first kMostTokenFaults
};

// More than anybody mends before cutting the text again.
inline constexpr std::size_t kMostTokenFaults = 21;

// Cuts a text into words, and stops at so many; comments start with #.
Tokens CutTokens(const std::string& text, std::size_t most_words);

// Returns what a kText token stands for.
std::string UnquotedText(const Token& token);

// Reads a kNumber token, or a name that stands for a number that is none or has no end. False for
// anything else.
bool ParseNumber(const Token& token, double* value);

// Return a word of the text as a fault shows it: escaped, for it may be no UTF-8, and cut.
std::string ShownWord(absl::string_view word);
std::string Shown(const Token& token);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_TOKENS_H_
