// How fast the server hands out gaits that it has, as a share of what gRPC alone does on the same
// machine in the same minute.
#include <algorithm>
#include <cstdio>
#include <fstream>
#include <memory>
#include <string>
#include <vector>

#include "gaitshelf/v1/library_service.pb.h"

#include "solver/base/status_macros.h"
#include "tests/bench/fetch.h"
#include "tests/bench/filled_library.h"
#include "tests/bench/library_home.h"
#include "tests/bench/program.h"
#include "tests/bench/quantile.h"
#include "tests/bench/service.h"

namespace gaitshelf::bench {
namespace {

constexpr int kKnotCount = 80;
// Few enough for all of them to be kept in the server's memory, and too many for that.
constexpr int kFewGaits = 100;
constexpr int kManyGaits = 2000;

// One of the two servers, and all that it answered.
struct Side {
  const Program* program = nullptr;
  std::unique_ptr<Fetcher> fetcher{};
  Fetched all{};
  double cpu_s = 0.0;

  absl::StatusOr<double> RateOf(const Load& load) {
    const double before_s = ProcessSeconds(program->process());
    GAITSHELF_ASSIGN_OR_RETURN(const Fetched fetched, fetcher->Run(load));
    cpu_s += ProcessSeconds(program->process()) - before_s;
    all.Add(fetched);
    return fetched.rate_per_s();
  }
  [[nodiscard]] Json Report() const {
    return Json::Object()
        .Set("rate_per_s", all.rate_per_s())
        .Set("mb_per_s", 1e-6 * static_cast<double>(all.byte_count) / all.seconds)
        .Set("p50_us", Quantile(all.answer_us, 0.5))
        .Set("p99_us", Quantile(all.answer_us, 0.99))
        .Set("server_cpu_us_per_call", 1e6 * cpu_s / static_cast<double>(all.answer_us.size()));
  }
};

struct Case {
  const char* transport = "";
  std::size_t address = 0;  // of both servers
  int gait_count = 0;
};

Load LoadOf(const ServiceOptions& options, int gait_count) {
  Load load;
  load.method = "/gaitshelf.v1.LibraryService/GetGait";
  load.call_count = options.call_count;
  load.seconds = options.seconds;
  for (int i = 0; i < gait_count; ++i) {
    v1::GetGaitRequest request;
    request.set_name(CopyName(i));
    load.requests.push_back(request.SerializeAsString());
  }
  return load;
}

absl::StatusOr<Json> MeasureCase(const ServiceOptions& options,
                                 const std::string& database,
                                 const Case& one,
                                 const Program& server,
                                 const Program& bare) {
  Side sides[2] = {{.program = &server}, {.program = &bare}};
  Load load = LoadOf(options, one.gait_count);
  for (Side& side : sides) {
    side.fetcher =
        std::make_unique<Fetcher>(side.program->addresses().at(one.address), kConnections);
    GAITSHELF_RETURN_IF_ERROR(side.fetcher->Run(load).status());  // to get warm
  }
  std::vector<double> ratios;
  Json all = Json::List();
  for (int round = 0; round < options.rounds; ++round) {
    load.rng = static_cast<unsigned>(round);
    double rates[2] = {0.0, 0.0};
    for (const int turn : {0, 1}) {
      const int side = (round + turn) % 2;
      GAITSHELF_ASSIGN_OR_RETURN(rates[side], sides[side].RateOf(load));
    }
    ratios.push_back(rates[0] / rates[1]);
    all.Add(ratios.back());
  }
  std::printf(
      "hits %-8s %-9s %5d gaits: %.2f of the bare server's rate (%.2f to %.2f), p50 %.0f and "
      "%.0f us, p99 %.0f and %.0f us\n",
      database.c_str(),
      one.transport,
      one.gait_count,
      Quantile(ratios, 0.5),
      Quantile(ratios, 0.0),
      Quantile(ratios, 1.0),
      Quantile(sides[0].all.answer_us, 0.5),
      Quantile(sides[1].all.answer_us, 0.5),
      Quantile(sides[0].all.answer_us, 0.99),
      Quantile(sides[1].all.answer_us, 0.99));
  std::fflush(stdout);
  return Json::Object()
      .Set("transport", one.transport)
      .Set("gaits", one.gait_count)
      .Set("rate_ratio_median", Quantile(ratios, 0.5))
      .Set("rate_ratios", all)
      .Set("server", sides[0].Report())
      .Set("bare", sides[1].Report());
}

absl::StatusOr<Json> MeasureHitsIn(const ServiceOptions& options,
                                   const SolvedGait& solved,
                                   const std::string& database) {
  LibraryHome home(database);
  const test::TemporaryFolder& folder = home.folder();
  GAITSHELF_ASSIGN_OR_RETURN(const std::string library, home.Add("hits"));
  GAITSHELF_RETURN_IF_ERROR(FillLibrary(library, solved, kManyGaits));
  v1::Gait gait = solved.gait;
  gait.set_name(CopyName(0));
  const std::string bytes = gait.SerializeAsString();
  std::ofstream(folder.File("gait")) << bytes;
  GAITSHELF_ASSIGN_OR_RETURN(const std::unique_ptr<Program> server,
                             Program::Start({options.server,
                                             "--library",
                                             library,
                                             "--listen",
                                             "unix:" + folder.File("server"),
                                             "--listen",
                                             "127.0.0.1:0"}));
  GAITSHELF_ASSIGN_OR_RETURN(const std::unique_ptr<Program> bare,
                             Program::Start({options.program,
                                             "--serve",
                                             folder.File("gait"),
                                             "unix:" + folder.File("bare"),
                                             "127.0.0.1:0"}));
  Json cases = Json::List();
  for (const int gait_count : {kFewGaits, kManyGaits}) {
    for (const Case& one : {Case{"socket", 0, gait_count}, Case{"loopback", 1, gait_count}}) {
      GAITSHELF_ASSIGN_OR_RETURN(const Json report,
                                 MeasureCase(options, database, one, *server, *bare));
      cases.Add(report);
    }
  }
  return Json::Object()
      .Set("database", database)
      .Set("gait_bytes", bytes.size())
      .Set("calls_at_a_time", options.call_count)
      .Set("server_peak_mb", ProcessMemory(server->process()).peak_mb)
      .Set("cases", cases);
}

}  // namespace

absl::StatusOr<Json> MeasureHits(const ServiceOptions& options) {
  GAITSHELF_ASSIGN_OR_RETURN(const SolvedGait solved, SolveGait(options.robot, kKnotCount));
  return MeasureDatabases(options, solved, MeasureHitsIn);
}

}  // namespace gaitshelf::bench
