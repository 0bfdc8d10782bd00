// Lays out text tables for a terminal, at most 80 columns wide for the tables of this command.
#ifndef GAITSHELF_CLIENTS_CLI_TABLE_H_
#define GAITSHELF_CLIENTS_CLI_TABLE_H_

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include <google/protobuf/timestamp.pb.h>

#include "gaitshelf/v1/audit.pb.h"
#include "gaitshelf/v1/job.pb.h"
#include "gaitshelf/v1/task.pb.h"

#include "absl/strings/string_view.h"

namespace gaitshelf::client {

// Collects rows and prints them with two blanks between columns.
class Table {
 public:
  // A heading that starts with '>' is right-aligned, as suits numbers; the mark is not printed.
  explicit Table(std::vector<std::string> headings);

  // Rows shorter than the headings are filled up with blanks.
  void AddRow(std::vector<std::string> cells);
  bool empty() const { return rows_.empty(); }

  // Returns lines that end in a newline, without trailing blanks.
  std::string ToText() const;

 private:
  std::vector<std::string> headings_;
  std::vector<bool> is_right_;
  std::vector<std::vector<std::string>> rows_;
};

// Tables of the same columns, each under a name, in the order in which the names first came: a name
// that every row would repeat takes the width of no column, and is never cut.
class NamedTables {
 public:
  explicit NamedTables(std::vector<std::string> headings) : headings_(std::move(headings)) {}

  Table& Of(const std::string& name);

  // Returns the tables, with names where there are at least so many tables; without any table, the
  // headings.
  std::string ToText(std::size_t least_named) const;

 private:
  std::vector<std::string> headings_;
  std::vector<std::pair<std::string, Table>> tables_;
};

// Each returns a short text for a person.
std::string Millimetres(double length_m);
std::string Hertz(double frequency_hz);
std::string Scientific(double ratio);
std::string Fixed(double value, int decimals);
// "2026-11-27T20:15:32Z".
std::string ShortTime(const google::protobuf::Timestamp& time);
// A title cut to so many bytes, at least 3, without tearing a character; "..." stands for the rest.
std::string ShortTitle(const std::string& title, std::size_t most);
// "advance 9 mm", "hop 9 mm" or "g-0123@0.25 into g-89ab@0".
std::string TaskText(const v1::Task& task);
// All surfaces of a gait or an order in words: "duct-steel, liner-felt and grit-tape".
std::string SurfacesText(const std::string& first,
                         const google::protobuf::RepeatedPtrField<std::string>& also_on);
// The same for a narrow column: "duct-ste+2".
std::string SurfacesCell(const std::string& first, int also_on_count);
std::string VerdictText(v1::Verdict verdict);
std::string StateText(v1::JobState state);
std::string PhaseText(v1::PlanPhase phase);
// Lower-case last word of an enum value: SEED_PATTERN_TROT gives "trot" for the prefix
// "SEED_PATTERN_".
std::string EnumText(absl::string_view value_name, absl::string_view prefix);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_TABLE_H_
