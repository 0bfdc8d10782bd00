// The command line of a bench: pairs of an option and its value. Every fault is told at once.
#ifndef GAITSHELF_TESTS_BENCH_OPTIONS_H_
#define GAITSHELF_TESTS_BENCH_OPTIONS_H_

#include <functional>
#include <limits>
#include <string>
#include <vector>

#include "absl/status/status.h"

namespace gaitshelf::bench {

// What a value may be, both ends included.
struct WholeRange {
  int least = 0;
  int most = std::numeric_limits<int>::max();
};
struct NumberRange {
  double least = 0.0;
  double most = std::numeric_limits<double>::infinity();
};

// Each option is added with the place where its value goes; what stands there is its default. The
// places must outlive the reader.
class OptionReader {
 public:
  // The program's name as messages say it.
  explicit OptionReader(std::string program) : program_(std::move(program)) {}

  // A whole number, a finite number, a text. `label` stands for the text in the usage.
  OptionReader& Whole(const std::string& name, WholeRange range, int* value);
  OptionReader& Number(const std::string& name, NumberRange range, double* value);
  OptionReader& Text(const std::string& name, const std::string& label, std::string* value);
  // One of the choices; one or more of them, with commas between.
  OptionReader& Choice(const std::string& name,
                       const std::vector<std::string>& choices,
                       std::string* value);
  OptionReader& Choices(const std::string& name,
                        const std::vector<std::string>& choices,
                        std::vector<std::string>* values);

  // Reads the words that follow the program's name. Of an option given twice the last value counts.
  //
  // Errors:
  //   kInvalidArgument   a line each for every unknown option, option without a value, and value
  //                      that breaks its rule: option, value and what to use instead
  [[nodiscard]] absl::Status Read(const std::vector<std::string>& words) const;
  // The same for a main function, which returns 2 when this is false: standard error has the faults
  // and the usage.
  [[nodiscard]] bool Read(int argc, char** argv) const;
  // One line.
  [[nodiscard]] std::string Usage() const;

 private:
  struct Option {
    std::string name{};
    std::string label{};                             // of its value, in the usage
    std::string rule{};                              // of its value, as it follows "use"
    std::function<bool(const std::string&)> take{};  // false for a value that breaks the rule
  };

  OptionReader& Add(Option option);
  [[nodiscard]] const Option* Find(const std::string& name) const;

  std::string program_;
  std::vector<Option> options_{};
};

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_OPTIONS_H_
