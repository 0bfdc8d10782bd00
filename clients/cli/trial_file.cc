#include "clients/cli/trial_file.h"

#include <charconv>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <limits>
#include <system_error>
#include <utility>

#include "absl/strings/ascii.h"
#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/string_view.h"
#include "absl/strings/strip.h"
#include "clients/cli/quantity.h"

namespace gaitshelf::client {
namespace {

constexpr std::size_t kMostFaults = 20;

// Whether a line holds no control characters but tabs, and every byte beyond ASCII is in a sequence
// of the length that its first byte says, as in UTF-8.
bool IsText(absl::string_view line) {
  std::size_t following = 0;  // bytes that the sequence still needs
  for (const char c : line) {
    const auto byte = static_cast<unsigned char>(c);
    if ((byte & 0xC0) == 0x80) {
      if (following == 0) {
        return false;
      }
      --following;
      continue;
    }
    const bool is_control = (byte < 0x20 && byte != '\t') || byte == 0x7F;
    if (following != 0 || is_control || byte > 0xF4) {
      return false;
    }
    following = byte >= 0xF0 ? 3 : byte >= 0xE0 ? 2 : byte >= 0xC0 ? 1 : 0;
  }
  return following == 0;
}

class LogReader {
 public:
  explicit LogReader(std::string path) : path_(std::move(path)) {
    file_.group.set_name(NameOfFile());
    file_.group.set_clock(v1::TRIAL_CLOCK_ON_BOARD);
  }

  void ReadLine(absl::string_view line) {
    ++line_number_;
    line = absl::StripAsciiWhitespace(line);
    if (line_number_ == 1) {
      absl::ConsumePrefix(&line, "\xEF\xBB\xBF");  // mark of an encoding
    }
    const bool has_heading = !file_.group.columns().empty();
    if (line.empty()) {
      return;
    }
    if (!IsText(line)) {
      row_number_ += has_heading ? 1 : 0;
      AddFault(absl::StrCat(Place(),
                            ": is no text; save the log as CSV, comma-separated values, in UTF-8"));
      return;
    }
    if (!has_heading && line[0] == '#') {
      ReadRemark(line.substr(1));
    } else if (!has_heading) {
      CheckSeparator(line);
      ForEachCell(line, [this](absl::string_view cell) {
        file_.group.add_columns()->set_label(std::string(cell));
      });
    } else {
      ReadRow(line);
    }
  }

  absl::StatusOr<TrialFile> Take() {
    if (fault_count_ == 0 && file_.values.empty()) {
      AddFault(
          absl::StrCat(path_, ": no rows; write a heading of names with units and rows below"));
    }
    if (fault_count_ > kMostFaults) {
      faults_.push_back(absl::StrCat(path_, ": ", fault_count_ - kMostFaults, " more faults"));
    }
    if (!faults_.empty()) {
      return absl::InvalidArgumentError(absl::StrJoin(faults_, "\n"));
    }
    return std::move(file_);
  }

 private:
  // The file's name in the form of a log's: lower case, hyphens.
  std::string NameOfFile() const {
    std::string name = absl::AsciiStrToLower(std::filesystem::path(path_).stem().string());
    for (char& c : name) {
      c = absl::ascii_isalnum(static_cast<unsigned char>(c)) ? c : '-';
    }
    const bool is_name = !name.empty() && absl::ascii_isalpha(static_cast<unsigned char>(name[0]));
    return (is_name ? name : absl::StrCat("log-", name)).substr(0, 63);
  }

  // Programs of some countries write semicolons into what they call CSV.
  void CheckSeparator(absl::string_view heading) {
    if (!absl::StrContains(heading, ',') && heading.find_first_of(";\t") != heading.npos) {
      AddFault(
          absl::StrCat(Place(),
                       ": the heading has no comma; put commas between the names, and a point into "
                       "numbers"));
    }
  }

  template <typename Function>
  static void ForEachCell(absl::string_view line, const Function& function) {
    for (;;) {
      const std::size_t comma = line.find(',');
      absl::string_view cell = absl::StripAsciiWhitespace(line.substr(0, comma));
      if (cell.size() >= 2 && cell.front() == '"' && cell.back() == '"') {
        cell = cell.substr(1, cell.size() - 2);
      }
      function(cell);
      if (comma == absl::string_view::npos) {
        return;
      }
      line.remove_prefix(comma + 1);
    }
  }

  void ReadRemark(absl::string_view remark) {
    const std::size_t colon = remark.find(':');
    if (colon == absl::string_view::npos) {
      return;  // a remark for people
    }
    const absl::string_view key = absl::StripAsciiWhitespace(remark.substr(0, colon));
    const std::string value(absl::StripAsciiWhitespace(remark.substr(colon + 1)));
    if (key == "name") {
      file_.group.set_name(value);
    } else if (key == "rate") {
      const absl::StatusOr<double> rate_hz = ParseQuantity(value, Dimension::kFrequency);
      if (rate_hz.ok()) {
        file_.group.set_sample_rate_hz(*rate_hz);
      } else {
        AddFault(absl::StrCat(Place(), ": rate: ", rate_hz.status().message()));
      }
    } else if (key == "clock") {
      ReadClock(value);
    }
  }

  void ReadClock(const std::string& value) {
    if (value == "on-board") {
      file_.group.set_clock(v1::TRIAL_CLOCK_ON_BOARD);
    } else if (value == "tracking") {
      file_.group.set_clock(v1::TRIAL_CLOCK_TRACKING);
    } else if (value == "bench") {
      file_.group.set_clock(v1::TRIAL_CLOCK_BENCH);
    } else {
      AddFault(absl::StrCat(
          Place(), ": clock: '", value, "' is no clock; use on-board, tracking or bench"));
    }
  }

  void ReadRow(absl::string_view line) {
    ++row_number_;
    int column = 0;
    const int width = file_.group.columns_size();
    ForEachCell(line, [&](absl::string_view cell) {
      if (column < width) {
        file_.values.push_back(ReadCell(cell, column));
      }
      ++column;
    });
    if (column != width) {
      AddFault(absl::StrCat(Place(),
                            ": ",
                            column,
                            " cells must be ",
                            width,
                            ", as the heading has; leave the cell of a missing sample empty"));
    }
  }

  double ReadCell(absl::string_view cell, int column) {
    if (cell.empty() || absl::EqualsIgnoreCase(cell, "nan")) {
      return std::numeric_limits<double>::quiet_NaN();
    }
    absl::string_view digits = cell;
    absl::ConsumePrefix(&digits, "+");
    double value = 0.0;
    const char* end = digits.data() + digits.size();
    const std::from_chars_result result = std::from_chars(digits.data(), end, value);
    if (result.ec != std::errc() || result.ptr != end) {
      AddFault(absl::StrCat(Place(),
                            " column '",
                            file_.group.columns(column).label(),
                            "': '",
                            cell,
                            "' is no number; write one with a decimal point, or leave it empty"));
    }
    return value;
  }

  std::string Place() const {
    return row_number_ > 0
               ? absl::StrCat(path_, ": row ", row_number_, " (line ", line_number_, ")")
               : absl::StrCat(path_, ": line ", line_number_);
  }

  void AddFault(const std::string& text) {
    if (++fault_count_ <= kMostFaults) {
      faults_.push_back(text);
    }
  }

  std::string path_;
  TrialFile file_;
  std::int64_t line_number_ = 0;
  std::int64_t row_number_ = 0;
  std::size_t fault_count_ = 0;
  std::vector<std::string> faults_;
};

}  // namespace

absl::StatusOr<TrialFile> ReadTrialFile(const std::string& path) {
  std::ifstream file(path);
  if (!file) {
    return absl::FailedPreconditionError(absl::StrCat(path, ": cannot be read"));
  }
  LogReader reader(path);
  std::string line;
  while (std::getline(file, line)) {
    reader.ReadLine(line);
  }
  return reader.Take();
}

}  // namespace gaitshelf::client
