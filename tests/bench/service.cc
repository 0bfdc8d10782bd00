// Measures the server: hits against a bare server of the same bytes, libraries of growing size, and
// a sweep by one worker and by two. Real programs, a real client; what is compared runs by turns,
// so that only ratios within one run count.
//
// Usage: service [--parts hits,size,sweep] [--rounds N] [--seconds S] [--calls N]
//                [--database sqlite|postgres|both] [--robot NAME] [--counts N,N,N] [--knots K]
//                [--server PATH] [--json FILE]
//
// The database is that of hits and size; a sweep is about the workers.
#include "tests/bench/service.h"

#include <algorithm>
#include <cstddef>
#include <cstdio>
#include <string>
#include <vector>

#include "absl/strings/numbers.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_split.h"
#include "absl/strings/string_view.h"
#include "solver/base/status_macros.h"
#include "tests/bench/bare_server.h"
#include "tests/bench/options.h"
#include "tests/support/paths.h"

namespace {

using gaitshelf::bench::Json;
using gaitshelf::bench::ServiceOptions;

struct Options {
  ServiceOptions service;
  std::vector<std::string> parts = {"hits", "size", "sweep"};
  std::string json;
};

struct Part {
  const char* name;
  absl::StatusOr<Json> (*measure)(const ServiceOptions& options);
};

constexpr Part kParts[] = {{"hits", gaitshelf::bench::MeasureHits},
                           {"size", gaitshelf::bench::MeasureSize},
                           {"sweep", gaitshelf::bench::MeasureSweep}};

// Numbers of gaits, with commas between; false when one is none.
bool ReadCounts(const std::string& text, std::vector<int>* counts) {
  counts->clear();
  for (const absl::string_view word : absl::StrSplit(text, ',')) {
    if (!absl::SimpleAtoi(word, &counts->emplace_back()) || counts->back() < 1) {
      std::fprintf(
          stderr,
          "service: --counts is '%s'; use whole numbers of 1 or more, with commas between\n",
          text.c_str());
      return false;
    }
  }
  return true;
}

bool ReadOptions(int count, char** values, Options* options) {
  ServiceOptions& service = options->service;
  std::string counts = absl::StrJoin(service.gait_counts, ",");
  std::string database = service.databases.front();
  if (!gaitshelf::bench::OptionReader("service")
           .Choices("--parts", {"hits", "size", "sweep"}, &options->parts)
           .Choice("--database", {"sqlite", "postgres", "both"}, &database)
           .Whole("--rounds", {.least = 1}, &service.rounds)
           .Number("--seconds", {.least = 0.01}, &service.seconds)
           .Whole("--calls", {.least = 1}, &service.call_count)
           .Text("--robot", "NAME", &service.robot)
           .Text("--counts", "N,...", &counts)
           .Whole("--knots", {.least = 2}, &service.knot_count)
           .Text("--server", "PATH", &service.server)
           .Text("--json", "FILE", &options->json)
           .Read(count, values)) {
    return false;
  }
  if (database == "both") {
    service.databases = {"sqlite", "postgres"};
  } else {
    service.databases = {database};
  }
  return ReadCounts(counts, &service.gait_counts);
}

int Run(const Options& options) {
  Json report = Json::Object();
  for (const Part& part : kParts) {
    if (std::find(options.parts.begin(), options.parts.end(), part.name) == options.parts.end()) {
      continue;
    }
    const absl::StatusOr<Json> measured = part.measure(options.service);
    if (!measured.ok()) {
      std::fprintf(stderr, "service: %s\n", measured.status().ToString().c_str());
      return 1;
    }
    report.Set(part.name, *measured);
  }
  return WriteJson(report, "service", options.json);
}

}  // namespace

namespace gaitshelf::bench {

absl::StatusOr<Json> MeasureDatabases(const ServiceOptions& options,
                                      const SolvedGait& solved,
                                      DatabaseMeasure measure) {
  GAITSHELF_ASSIGN_OR_RETURN(Json report, measure(options, solved, options.databases.front()));
  for (std::size_t i = 1; i < options.databases.size(); ++i) {
    const std::string& database = options.databases[i];
    GAITSHELF_ASSIGN_OR_RETURN(const Json further, measure(options, solved, database));
    report.Set(database, further);
  }
  return report;
}

}  // namespace gaitshelf::bench

int main(int count, char** values) {
  // The bare server is this program as well: --serve FILE ADDRESS ADDRESS
  if (count > 3 && std::string(values[1]) == "--serve") {
    return gaitshelf::bench::ServeBytes(values[2],
                                        std::vector<std::string>(values + 3, values + count));
  }
  Options options;
  options.service.program = "/proc/self/exe";
  options.service.server = gaitshelf::test::ProgramPath("gaitshelfd");
  if (!ReadOptions(count, values, &options)) {
    return 2;
  }
  return Run(options);
}
