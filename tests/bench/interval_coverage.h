// How often the 95 % intervals of calibrations hold what was hidden, by kind of number.
#ifndef GAITSHELF_TESTS_BENCH_INTERVAL_COVERAGE_H_
#define GAITSHELF_TESTS_BENCH_INTERVAL_COVERAGE_H_

#include <map>
#include <string>
#include <vector>

#include "gaitshelf/v1/calibration.pb.h"
#include "gaitshelf/v1/robot.pb.h"

#include "tests/bench/json.h"
#include "tests/support/hidden_robot.h"

namespace gaitshelf::bench {

class IntervalCoverage {
 public:
  // Counts the estimates of one calibration that started from this description.
  void Add(const v1::Calibration& calibration,
           const v1::Robot& described,
           const test::HiddenRobot& hidden);

  // A line for each kind and one for all; the same as members that are added to a report.
  std::string Text() const;
  void Set(Json* report) const;

 private:
  struct Kind {
    int held = 0;
    int count = 0;
    int untold = 0;
    std::vector<double> error_ratio{};  // size of estimate over truth less 1

    double Share() const { return count > 0 ? static_cast<double>(held) / count : 0.0; }
  };

  Kind All() const;

  std::map<std::string, Kind> kinds_{};
};

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_INTERVAL_COVERAGE_H_
