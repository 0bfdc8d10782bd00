// What the planner costs.
// Usage: planner [--json FILE] [--parts PART[,PART...]] [--robot NAME] [--repeats N]
//                [--most-knots N] [--frequency HZ] [--most-ratio R] [--only SETUP]
//   growth   how time grows with the knots and with the legs
//   shares   what its time goes into, over the demonstration's grid
//   versus   the planner's solver against IPOPT, which is stopped at R times the planner's time;
//            --only keeps set-ups whose name has this part
// Takes minutes. Progress goes to standard error, tables to standard output.
#include <cstdlib>
#include <fstream>
#include <iostream>
#include <string>
#include <vector>

#include <google/protobuf/struct.pb.h>
#include <google/protobuf/util/json_util.h>

#include "absl/strings/str_split.h"
#include "tests/bench/growth.h"
#include "tests/bench/shares.h"
#include "tests/bench/versus.h"

namespace {

using google::protobuf::Struct;

struct Options {
  std::string json;
  std::vector<std::string> parts = {"growth", "shares", "versus"};
  std::string robot = "weevil-lumped";
  std::string only;
  double frequency_hz = 0.0;
  double most_ratio = 60.0;
  int repeats = 5;
  int most_knots = 320;
};

bool ReadOptions(int argc, char** argv, Options* options) {
  for (int i = 1; i + 1 < argc; i += 2) {
    const std::string name = argv[i];
    if (name == "--json") {
      options->json = argv[i + 1];
    } else if (name == "--parts") {
      options->parts = absl::StrSplit(argv[i + 1], ',');
    } else if (name == "--robot") {
      options->robot = argv[i + 1];
    } else if (name == "--only") {
      options->only = argv[i + 1];
    } else if (name == "--frequency") {
      options->frequency_hz = std::atof(argv[i + 1]);
    } else if (name == "--most-ratio") {
      options->most_ratio = std::atof(argv[i + 1]);
    } else if (name == "--repeats") {
      options->repeats = std::atoi(argv[i + 1]);
    } else if (name == "--most-knots") {
      options->most_knots = std::atoi(argv[i + 1]);
    } else {
      return false;
    }
  }
  return argc % 2 == 1 && options->repeats > 0 && options->most_knots >= 40;
}

absl::StatusOr<Struct> RunPart(const std::string& part, const Options& options) {
  if (part == "growth") {
    return gaitshelf::bench::MeasureGrowth(
        {.most_knots = options.most_knots, .repeats = options.repeats});
  }
  if (part == "shares") {
    return gaitshelf::bench::MeasureShares(options.robot);
  }
  if (part == "versus") {
    return gaitshelf::bench::CompareWithIpopt({.robot = options.robot,
                                               .only = options.only,
                                               .frequency_hz = options.frequency_hz,
                                               .most_ratio = options.most_ratio});
  }
  return absl::InvalidArgumentError("--parts is '" + part + "'; use growth, shares or versus");
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  if (!ReadOptions(argc, argv, &options)) {
    std::cerr
        << "usage: planner [--json FILE] [--parts PART[,PART...]] [--robot NAME] "
           "[--repeats N] [--most-knots N] [--frequency HZ] [--most-ratio R] [--only SETUP]\n";
    return 2;
  }
  Struct report;
  for (const std::string& part : options.parts) {
    absl::StatusOr<Struct> found = RunPart(part, options);
    if (!found.ok()) {
      std::cerr << "planner: " << found.status() << "\n";
      return 1;
    }
    *(*report.mutable_fields())[part].mutable_struct_value() = *std::move(found);
  }
  if (options.json.empty()) {
    return 0;
  }
  std::string text;
  google::protobuf::util::JsonPrintOptions json_options;
  json_options.add_whitespace = true;
  const auto status = google::protobuf::util::MessageToJsonString(report, &text, json_options);
  std::ofstream file(options.json);
  file << text;
  file.close();
  if (!status.ok() || !file) {
    std::cerr << "planner: cannot write --json " << options.json << "\n";
    return 1;
  }
  return 0;
}
