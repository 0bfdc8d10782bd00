#include "clients/cli/progress_line.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <ostream>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "clients/cli/table.h"

namespace gaitshelf::client {
namespace {

constexpr std::size_t kMaxColumns = 79;
// Fine enough to see the violation fall, short enough for the line.
constexpr int kBarCells = 10;
// Decades that the bar spans: a plan has converged at 1e-6.
constexpr double kBarDecades = 6.0;
constexpr std::chrono::seconds kPlainPeriod{5};

}  // namespace

std::string ViolationBar(double violation_ratio, int cell_count) {
  double share = 0.0;
  if (violation_ratio > 0.0 && std::isfinite(violation_ratio)) {
    share = std::clamp(-std::log10(violation_ratio) / kBarDecades, 0.0, 1.0);
  }
  const auto filled = static_cast<std::size_t>(std::lround(share * cell_count));
  return std::string(filled, '#') + std::string(static_cast<std::size_t>(cell_count) - filled, '.');
}

std::string ProgressLine(const v1::Job& job) {
  if (job.state() != v1::JOB_STATE_RUNNING || !job.has_progress()) {
    return absl::StrCat(job.name(), " ", StateText(job.state()));
  }
  const v1::PlanProgress& progress = job.progress();
  std::string line = absl::StrFormat("%s %-8s", job.name(), PhaseText(progress.phase()));
  if (progress.violation_ratio() > 0.0) {
    absl::StrAppendFormat(&line,
                          " round %2d violation %.1e [%s]",
                          progress.round(),
                          progress.violation_ratio(),
                          ViolationBar(progress.violation_ratio(), kBarCells));
  }
  if (progress.knot_count() > 0) {
    absl::StrAppendFormat(&line, " %d knots", progress.knot_count());
  }
  absl::StrAppendFormat(
      &line, " %d %% %.1f s", std::lround(progress.done_ratio() * 100.0), progress.elapsed_s());
  return line.substr(0, kMaxColumns);
}

ProgressPrinter::ProgressPrinter(Console& console, bool is_quiet)
    : console_(console), is_quiet_(is_quiet) {}

ProgressPrinter::~ProgressPrinter() { Finish(); }

void ProgressPrinter::Show(const v1::Job& job, std::chrono::steady_clock::time_point now) {
  if (is_quiet_) {
    return;
  }
  if (console_.err_is_terminal) {
    // "\r" returns to the start of the line, "\033[K" clears what a longer line left behind.
    console_.err << '\r' << ProgressLine(job) << "\033[K" << std::flush;
    has_open_line_ = true;
    return;
  }
  const std::string key =
      absl::StrCat(job.state(), "/", job.attempt(), "/", job.progress().phase());
  if (key == last_key_ && now - last_time_ < kPlainPeriod) {
    return;
  }
  last_key_ = key;
  last_time_ = now;
  console_.err << ProgressLine(job) << std::endl;
}

void ProgressPrinter::Finish() {
  if (has_open_line_) {
    console_.err << std::endl;
    has_open_line_ = false;
  }
}

}  // namespace gaitshelf::client
