// What a bench test logged of one leg: positions, and what acted on it meanwhile.
#ifndef GAITSHELF_SOLVER_CALIBRATE_BENCH_RECORD_H_
#define GAITSHELF_SOLVER_CALIBRATE_BENCH_RECORD_H_

#include <array>
#include <cstddef>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "gaitshelf/v1/robot.pb.h"

#include "solver/measure/trial_table.h"

namespace gaitshelf::solver {

// N rows, SI units. Index 0 is lift, 1 swing. Points into a table and must not outlive it.
struct BenchRecord {
  // Rows beyond this are left out: a few seconds tell all there is to tell.
  static constexpr std::size_t kMostRows = 50'000;

  std::string trial;
  const std::vector<double>* time_s = nullptr;
  std::array<const std::vector<double>*, 2> position_m = {nullptr, nullptr};  // null: not measured
  // Drive voltage less bias of lift and swing, then applied force along lift and swing: 4 x N. Each
  // is held from its row to the next. 0 where nothing was logged.
  Eigen::MatrixXd input;
  std::array<bool, 2> has_voltage = {false, false};
  double added_mass_kg = 0.0;  // at the foot

  std::size_t row_count() const { return static_cast<std::size_t>(input.cols()); }
};

// Returns the records of a leg in a bench test: one, or one for each coordinate when these were
// logged with times of their own. Empty when no coordinate of the leg was measured in two rows or
// more.
std::vector<BenchRecord> ReadBenchRecords(const TrialTable& table, const v1::Leg& leg);

}  // namespace gaitshelf::solver

#endif  // GAITSHELF_SOLVER_CALIBRATE_BENCH_RECORD_H_
