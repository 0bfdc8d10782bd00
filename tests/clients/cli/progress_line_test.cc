#include "clients/cli/progress_line.h"

#include <cmath>
#include <limits>
#include <sstream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace gaitshelf::client {
namespace {

using std::chrono::steady_clock;
using testing::HasSubstr;

v1::Job RunningJob() {
  v1::Job job;
  job.set_name("j-123");
  job.set_state(v1::JOB_STATE_RUNNING);
  v1::PlanProgress& progress = *job.mutable_progress();
  progress.set_phase(v1::PLAN_PHASE_REFINING);
  progress.set_round(12);
  progress.set_violation_ratio(1e-3);
  progress.set_knot_count(400);
  progress.set_done_ratio(0.62);
  progress.set_elapsed_s(12345.6);
  return job;
}

TEST(ProgressLineTest, FillsTheBarByDecades) {
  EXPECT_EQ(ViolationBar(1.0, 12), "............");
  EXPECT_EQ(ViolationBar(50.0, 12), "............");
  EXPECT_EQ(ViolationBar(1e-3, 12), "######......");
  EXPECT_EQ(ViolationBar(1e-6, 12), "############");
  EXPECT_EQ(ViolationBar(1e-12, 12), "############");
  EXPECT_EQ(ViolationBar(0.0, 4), "....");
  EXPECT_EQ(ViolationBar(std::numeric_limits<double>::quiet_NaN(), 4), "....");
}

TEST(ProgressLineTest, FitsATerminal) {
  const std::string line = ProgressLine(RunningJob());
  EXPECT_LE(line.size(), 79U);
  EXPECT_THAT(line, HasSubstr("refining"));
  EXPECT_THAT(line, HasSubstr("[#####.....] 400 knots 62 % 12345.6 s"));
}

TEST(ProgressLineTest, ShowsTheStateOfAJobThatDoesNotRun) {
  v1::Job job;
  job.set_name("j-1");
  job.set_state(v1::JOB_STATE_QUEUED);
  EXPECT_EQ(ProgressLine(job), "j-1 queued");
}

TEST(ProgressPrinterTest, DrawsOverItsLineOnATerminal) {
  std::istringstream in;
  std::ostringstream out, err;
  Console console{in, out, err, true, true, nullptr};
  ProgressPrinter printer(console, false);
  printer.Show(RunningJob(), steady_clock::time_point());
  printer.Show(RunningJob(), steady_clock::time_point());
  printer.Finish();
  const std::string once = "\r" + ProgressLine(RunningJob()) + "\033[K";
  EXPECT_EQ(err.str(), once + once + "\n");
  EXPECT_EQ(out.str(), "");
}

TEST(ProgressPrinterTest, PrintsFewPlainLinesElsewhere) {
  std::istringstream in;
  std::ostringstream out, err;
  Console console{in, out, err, false, false, nullptr};
  ProgressPrinter printer(console, false);
  v1::Job job = RunningJob();
  const steady_clock::time_point start;
  for (int tenth = 0; tenth < 70; ++tenth) {
    printer.Show(job, start + std::chrono::milliseconds(100 * tenth));
  }
  job.mutable_progress()->set_phase(v1::PLAN_PHASE_AUDITING);
  printer.Show(job, start + std::chrono::seconds(7));
  printer.Finish();
  // At 0 s, at 5 s, and for the new phase.
  const std::string text = err.str();
  EXPECT_EQ(std::count(text.begin(), text.end(), '\n'), 3);
  EXPECT_EQ(text.find('\r'), std::string::npos);
}

TEST(ProgressPrinterTest, SaysNothingWhenQuiet) {
  std::istringstream in;
  std::ostringstream out, err;
  Console console{in, out, err, true, true, nullptr};
  ProgressPrinter printer(console, true);
  printer.Show(RunningJob(), steady_clock::time_point());
  printer.Finish();
  EXPECT_EQ(err.str(), "");
}

}  // namespace
}  // namespace gaitshelf::client
