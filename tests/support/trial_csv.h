// Writes logs of made-up trials as a person would keep them. Invented data.
#ifndef GAITSHELF_TESTS_SUPPORT_TRIAL_CSV_H_
#define GAITSHELF_TESTS_SUPPORT_TRIAL_CSV_H_

#include <cstddef>
#include <fstream>
#include <iomanip>
#include <string>

#include "gaitshelf/v1/trial.pb.h"

#include "tests/support/recorded_trial.h"

namespace gaitshelf::test {

struct CsvFile {
  std::string path;
  std::string what;  // what was invented, for a comment in the file
  int digits = 10;   // significant ones of every number
};

// Writes one group of a trial as CSV: comments, heading, rows.
inline void WriteCsv(const v1::TrialGroup& group, const v1::TrialBlock& block, const CsvFile& csv) {
  const char* clock = group.clock() == v1::TRIAL_CLOCK_TRACKING ? "tracking"
                      : group.clock() == v1::TRIAL_CLOCK_BENCH  ? "bench"
                                                                : "on-board";
  std::ofstream file(csv.path);
  file << "# invented: " << csv.what << "\n# name: " << group.name() << "\n# clock: " << clock
       << "\n";
  const int width = group.columns_size();
  for (int i = 0; i < width; ++i) {
    file << (i > 0 ? "," : "") << group.columns(i).label();
  }
  file << std::setprecision(csv.digits);
  for (int i = 0; i < block.values_as_labelled_size(); ++i) {
    file << (i % width == 0 ? "\n" : ",") << block.values_as_labelled(i);
  }
  file << "\n";
}

// Writes both logs of a gait's replay: board.csv and tracking.csv in a folder.
inline void WriteGaitLogs(const RecordedTrial& recorded,
                          const std::string& folder,
                          const std::string& what,
                          int digits = CsvFile().digits) {
  for (int i = 0; i < recorded.trial.groups_size(); ++i) {
    WriteCsv(recorded.trial.groups(i),
             recorded.blocks[static_cast<std::size_t>(i)],
             {.path = folder + (i == 0 ? "/board.csv" : "/tracking.csv"),
              .what = what,
              .digits = digits});
  }
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_TRIAL_CSV_H_
