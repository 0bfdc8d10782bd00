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

unsigned int Byte(absl::string_view bytes, size_t index) {
  return static_cast<unsigned char>(bytes[index]);
}

// Bytes of the UTF-8 sequence that starts with this one; 0 when none does. RFC 3629, section 4.
size_t SequenceLength(unsigned int lead) {
  return lead < 0x80   ? 1
         : lead < 0xC2 ? 0
         : lead < 0xE0 ? 2
         : lead < 0xF0 ? 3
         : lead < 0xF5 ? 4
                       : 0;
}

// Whether the bytes behind the first of a sequence may follow it. The second byte is bound more
// closely where the first would otherwise start an overlong form, a surrogate or more than
// U+10FFFF; RFC 3629, section 4.
bool HasGoodTail(absl::string_view sequence) {
  if (sequence.size() == 1) {
    return true;
  }
  const unsigned int lead = Byte(sequence, 0);
  const unsigned int least = lead == 0xE0 ? 0xA0 : lead == 0xF0 ? 0x90 : 0x80;
  const unsigned int greatest = lead == 0xED ? 0x9F : lead == 0xF4 ? 0x8F : 0xBF;
  if (Byte(sequence, 1) < least || Byte(sequence, 1) > greatest) {
    return false;
  }
  for (size_t i = 2; i < sequence.size(); ++i) {
    if ((Byte(sequence, i) & 0xC0u) != 0x80u) {
      return false;
    }
  }
  return true;
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
  while (!bytes.empty()) {
    const size_t length = SequenceLength(Byte(bytes, 0));
    if (length == 0 || length > bytes.size() || !HasGoodTail(bytes.substr(0, length))) {
      return false;
    }
    bytes.remove_prefix(length);
  }
  return true;
}

}  // namespace gaitshelf::solver
