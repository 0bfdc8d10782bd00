// The words of a protobuf text, with their places.
#ifndef GAITSHELF_SOLVER_ROBOT_TOKENS_H_
#define GAITSHELF_SOLVER_ROBOT_TOKENS_H_

#include <cstddef>
#include <string>
#include <vector>

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

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_ROBOT_TOKENS_H_
