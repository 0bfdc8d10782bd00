// The figures of a measurement as JSON, for those who compare runs.
#ifndef GAITSHELF_TESTS_BENCH_JSON_H_
#define GAITSHELF_TESTS_BENCH_JSON_H_

#include <string>
#include <type_traits>
#include <utility>
#include <vector>

namespace gaitshelf::bench {

// A number, a truth, a text, or an object or list of them. Members stand in the order in which they
// were set. A number that is none, or infinite, is written as null.
class Json {
 public:
  template <typename Number, typename = std::enable_if_t<std::is_arithmetic_v<Number>>>
  Json(Number value)  // NOLINT: so that members are set without a word
      : Json(kScalar, NumberText(static_cast<double>(value))) {
    if constexpr (std::is_same_v<Number, bool>) {
      scalar_ = value ? "true" : "false";
    }
  }
  Json(const std::string& text)  // NOLINT
      : Json(kScalar, Quoted(text)) {}
  Json(const char* text) : Json(std::string(text)) {}  // NOLINT
  static Json Object() { return {kObject, ""}; }
  static Json List() { return {kList, ""}; }

  Json& Set(const std::string& name, Json value);
  Json& Add(Json value);
  [[nodiscard]] std::string Text(int depth = 0) const;

 private:
  enum Kind { kScalar, kObject, kList };

  Json(Kind kind, std::string scalar) : kind_(kind), scalar_(std::move(scalar)) {}
  static std::string NumberText(double value);
  static std::string Quoted(const std::string& text);

  Kind kind_;
  std::string scalar_;
  std::vector<std::pair<std::string, Json>> members_{};  // of a list without names
};

// Writes a report with the machine that it was measured on; without a path it does nothing. Returns
// what main returns: 0, or 1 after it has told standard error that the file cannot be written.
int WriteJson(Json report, const std::string& program, const std::string& path);

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_JSON_H_
