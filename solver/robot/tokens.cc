#include "solver/robot/tokens.h"

#include <google/protobuf/io/tokenizer.h>
#include <google/protobuf/io/zero_copy_stream_impl_lite.h>

namespace gaitshelf::solver {
namespace {

using google::protobuf::io::Tokenizer;

class FaultList final : public google::protobuf::io::ErrorCollector {
 public:
  explicit FaultList(std::vector<TokenFault>* faults) : faults_(faults) {}
  void AddError(int line, int column, const std::string& message) override {
    faults_->push_back({line + 1, column + 1, message});
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

Tokens CutTokens(const std::string& text) {
  Tokens tokens;
  FaultList faults(&tokens.faults);
  google::protobuf::io::ArrayInputStream stream(text.data(), static_cast<int>(text.size()));
  Tokenizer tokenizer(&stream, &faults);
  tokenizer.set_comment_style(Tokenizer::SH_COMMENT_STYLE);
  tokenizer.set_allow_f_after_float(true);
  tokenizer.set_require_space_after_number(false);
  while (tokenizer.Next()) {
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

bool IsUtf8(absl::string_view bytes) {
  // Well-formed sequences after table 3-7 of the Unicode standard (from memory): least and greatest
  // code point by length, no surrogates.
  size_t i = 0;
  while (i < bytes.size()) {
    const auto lead = static_cast<unsigned char>(bytes[i]);
    const int more_count = lead < 0x80   ? 0
                           : lead < 0xC2 ? -1
                           : lead < 0xE0 ? 1
                           : lead < 0xF0 ? 2
                           : lead < 0xF5 ? 3
                                         : -1;
    if (more_count < 0 || i + static_cast<size_t>(more_count) >= bytes.size()) {
      return false;
    }
    unsigned int point = more_count == 0 ? lead : lead & (0x3Fu >> more_count);
    for (int k = 1; k <= more_count; ++k) {
      const auto next = static_cast<unsigned char>(bytes[i + static_cast<size_t>(k)]);
      if ((next & 0xC0u) != 0x80u) {
        return false;
      }
      point = (point << 6) | (next & 0x3Fu);
    }
    const bool is_overlong =
        (more_count == 2 && point < 0x800) || (more_count == 3 && point < 0x10000);
    const bool is_surrogate = point >= 0xD800 && point <= 0xDFFF;
    if (is_overlong || is_surrogate || point > 0x10FFFF) {
      return false;
    }
    i += static_cast<size_t>(more_count) + 1;
  }
  return true;
}

}  // namespace gaitshelf::solver
