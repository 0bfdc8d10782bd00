// Shows how far a solve has come: one line that is drawn over on a terminal, few plain lines
// elsewhere.
#ifndef GAITSHELF_CLIENTS_CLI_PROGRESS_LINE_H_
#define GAITSHELF_CLIENTS_CLI_PROGRESS_LINE_H_

#include <chrono>
#include <string>

#include "gaitshelf/v1/job.pb.h"

#include "clients/cli/console.h"

namespace gaitshelf::client {

// Returns a bar of `cell_count` cells, empty for a violation of 1 and above, full for 1e-6 and
// below, one step for equal ratios between: the violation falls by decades, not by amounts.
std::string ViolationBar(double violation_ratio, int cell_count);

// Returns the job's state in at most 79 columns, without a newline.
std::string ProgressLine(const v1::Job& job);

class ProgressPrinter {
 public:
  // Writes to console.err, or nowhere when quiet.
  ProgressPrinter(Console& console, bool is_quiet);
  ~ProgressPrinter();
  ProgressPrinter(const ProgressPrinter&) = delete;
  ProgressPrinter& operator=(const ProgressPrinter&) = delete;

  // On a terminal draws over the line before. Elsewhere prints a line when the state or the phase
  // has changed, and at least every 5 s of `now`.
  void Show(const v1::Job& job, std::chrono::steady_clock::time_point now);
  // Ends the drawn line, so that other text may follow.
  void Finish();

 private:
  Console& console_;
  bool is_quiet_;
  bool has_open_line_ = false;
  std::string last_key_;
  std::chrono::steady_clock::time_point last_time_;
};

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_PROGRESS_LINE_H_
