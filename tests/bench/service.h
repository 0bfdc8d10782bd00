// The three parts of the measurement of the server (service.cc).
#ifndef GAITSHELF_TESTS_BENCH_SERVICE_H_
#define GAITSHELF_TESTS_BENCH_SERVICE_H_

#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "tests/bench/filled_library.h"
#include "tests/bench/json.h"

namespace gaitshelf::bench {

struct ServiceOptions {
  std::string program;                              // this one, which serves bytes as well
  std::string server;                               // gaitshelfd
  std::vector<std::string> databases = {"sqlite"};  // of hits and size; see library_home.h
  std::string robot = "weevil";                     // whose gaits are hit
  int rounds = 8;
  double seconds = 1.0;  // of one load
  int call_count = 8;    // at a time
  std::vector<int> gait_counts = {1000, 10000, 100000};
  int knot_count = 24;  // of the gaits in those libraries
};

// Connections from the clients to one server.
inline constexpr int kConnections = 2;

// Measures in one database, with a gait that was solved before.
using DatabaseMeasure = absl::StatusOr<Json> (*)(const ServiceOptions& options,
                                                 const SolvedGait& solved,
                                                 const std::string& database);
// What is measured in the first database; in it, under their names, that in the others.
absl::StatusOr<Json> MeasureDatabases(const ServiceOptions& options,
                                      const SolvedGait& solved,
                                      DatabaseMeasure measure);

// Gaits that the library has, against the same bytes from a server that does nothing else, by
// turns.
absl::StatusOr<Json> MeasureHits(const ServiceOptions& options);
// Libraries of different sizes, by turns.
absl::StatusOr<Json> MeasureSize(const ServiceOptions& options);
// A set of orders by one worker and by two, by turns.
absl::StatusOr<Json> MeasureSweep(const ServiceOptions& options);

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_SERVICE_H_
