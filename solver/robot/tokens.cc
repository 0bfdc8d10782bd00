#include "solver/robot/tokens.h"

#include <limits>

#include <google/protobuf/io/tokenizer.h>
#include <google/protobuf/io/zero_copy_stream_impl_lite.h>

#include "absl/strings/ascii.h"
#include "absl/strings/escaping.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/strip.h"
#include "solver/robot/violation.h"

namespace gaitshelf::solver {
namespace {

using google::protobuf::io::Tokenizer;

class FaultList final : public google::protobuf::io::ErrorCollector {
 public:
  explicit FaultList(std::vector<TokenFault>* faults) : faults_(faults) {}
  void AddError(int line, int column, const std::string& message) override {
    if (faults_->size() < kMostTokenFaults) {
      faults_->push_back({line + 1, column + 1, message});
    }
  }

 private:
  std::vector<TokenFault>* faults_;
};

TokenKind KindOf(Tokenizer::TokenType type) {
  switch (type) {
    case Tokenizer::TYPE_IDENTIFIER:
      return TokenKind::kName;
    case Tokenizer::TYPE_INTEGER:
    case Tokenizer::TYPE_FLOAT:
      return TokenKind::kNumber;
    case Tokenizer::TYPE_STRING:
      return TokenKind::kText;
    default:
      return TokenKind::kSign;
  }
}

}  // namespace

Tokens CutTokens(const std::string& text, std::size_t most_words) {
  Tokens tokens;
  FaultList faults(&tokens.faults);
  google::protobuf::io::ArrayInputStream stream(text.data(), static_cast<int>(text.size()));
  Tokenizer tokenizer(&stream, &faults);
  tokenizer.set_comment_style(Tokenizer::SH_COMMENT_STYLE);
  tokenizer.set_allow_f_after_float(true);
  tokenizer.set_require_space_after_number(false);
  while (tokens.list.size() < most_words && tokenizer.Next()) {
    const Tokenizer::Token& token = tokenizer.current();
    tokens.list.push_back({KindOf(token.type), token.text, token.line + 1, token.column + 1});
  }
  const Tokenizer::Token& end = tokenizer.current();
  tokens.list.push_back({TokenKind::kEnd, "", end.line + 1, end.column + 1});
  return tokens;
}

std::string UnquotedText(const Token& token) {
  std::string text;
  Tokenizer::ParseStringAppend(token.text, &text);
  return text;
}

bool ParseNumber(const Token& token, double* value) {
  const std::string text = absl::AsciiStrToLower(token.text);
  if (token.kind == TokenKind::kName) {
    *value = text == "nan" ? std::numeric_limits<double>::quiet_NaN()
                           : std::numeric_limits<double>::infinity();
    return text == "nan" || text == "inf" || text == "infinity";
  }
  // A leading zero would mean base 8 or 16 to some readers.
  const bool has_base =
      text.size() > 1 && text[0] == '0' &&
      (absl::ascii_isdigit(static_cast<unsigned char>(text[1])) || text[1] == 'x');
  return token.kind == TokenKind::kNumber && !has_base &&
         absl::SimpleAtod(absl::StripSuffix(text, "f"), value);
}

std::string ShownWord(absl::string_view word) {
  constexpr std::size_t kShownCount = 80;
  return absl::StrCat(absl::CEscape(word.substr(0, kShownCount)),
                      word.size() > kShownCount ? "..." : "");
}

std::string Shown(const Token& token) {
  return token.kind == TokenKind::kEnd    ? "the end of the text"
         : token.kind == TokenKind::kText ? QuotedText(UnquotedText(token))
                                          : ShownWord(token.text);
}

}  // namespace gaitshelf::solver
