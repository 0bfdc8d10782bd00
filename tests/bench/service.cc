// Measures the server: hits against a bare server of the same bytes, libraries of growing size, and
// a sweep by one worker and by two. Real programs, a real client; what is compared runs by turns,
// so that only ratios within one run count.
//
// Usage: service [--parts hits,size,sweep] [--rounds N] [--seconds S] [--calls N]
//                [--robot NAME] [--counts N,N,N] [--knots K] [--server PATH] [--json FILE]
#include "tests/bench/service.h"

#include <cstdio>
#include <cstdlib>
#include <string>
#include <vector>

#include "absl/strings/str_split.h"
#include "tests/bench/bare_server.h"
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

bool ReadOptions(int count, char** values, Options* options) {
  ServiceOptions& service = options->service;
  for (int i = 1; i + 1 < count; i += 2) {
    const std::string name = values[i];
    const char* value = values[i + 1];
    if (name == "--parts") {
      options->parts = absl::StrSplit(value, ',');
    } else if (name == "--rounds") {
      service.rounds = std::atoi(value);
    } else if (name == "--seconds") {
      service.seconds = std::atof(value);
    } else if (name == "--calls") {
      service.call_count = std::atoi(value);
    } else if (name == "--knots") {
      service.knot_count = std::atoi(value);
    } else if (name == "--counts") {
      service.gait_counts.clear();
      for (const std::string& text : std::vector<std::string>(absl::StrSplit(value, ','))) {
        service.gait_counts.push_back(std::atoi(text.c_str()));
      }
    } else if (name == "--robot") {
      service.robot = value;
    } else if (name == "--server") {
      service.server = value;
    } else if (name == "--json") {
      options->json = value;
    } else {
      return false;
    }
  }
  return count % 2 == 1 && service.rounds > 0 && service.seconds > 0.0 && service.call_count > 0;
}

const Part* FindPart(const std::string& name) {
  for (const Part& part : kParts) {
    if (name == part.name) {
      return &part;
    }
  }
  return nullptr;
}

int Run(const Options& options) {
  Json report = Json::Object();
  for (const std::string& name : options.parts) {
    const Part* const part = FindPart(name);
    if (part == nullptr) {
      std::fprintf(stderr, "service: --parts has '%s'; use hits, size, sweep\n", name.c_str());
      return 2;
    }
    const absl::StatusOr<Json> measured = part->measure(options.service);
    if (!measured.ok()) {
      std::fprintf(stderr, "service: %s\n", measured.status().ToString().c_str());
      return 1;
    }
    report.Set(name, *measured);
  }
  return WriteJson(report, "service", options.json);
}

}  // namespace

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
    std::fprintf(stderr,
                 "usage: service [--parts hits,size,sweep] [--rounds N] [--seconds S] [--calls N]\n"
                 "               [--robot NAME] [--counts N,N,N] [--knots K] [--server PATH]\n"
                 "               [--json FILE]\n");
    return 2;
  }
  return Run(options);
}
