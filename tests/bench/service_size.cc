// How much slower a server gets when its library grows.
#include <chrono>
#include <cstdio>
#include <map>
#include <memory>
#include <string>
#include <thread>
#include <vector>

#include "gaitshelf/v1/library_service.pb.h"

#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"
#include "tests/bench/fetch.h"
#include "tests/bench/filled_library.h"
#include "tests/bench/library_home.h"
#include "tests/bench/program.h"
#include "tests/bench/quantile.h"
#include "tests/bench/service.h"

namespace gaitshelf::bench {
namespace {

constexpr int kStarts = 5;
constexpr const char* kCalls[] = {"GetGait", "FindGait", "ListGaits", "ListGaits of one robot"};

// A library of one size, its server and what it answered.
struct Size {
  int gait_count = 0;
  std::string library{};
  double library_mb = 0.0;
  double fill_s = 0.0;
  std::vector<double> start_s{};
  std::unique_ptr<Program> server{};
  std::unique_ptr<Fetcher> fetcher{};
  std::map<std::string, Load> loads{};
  std::map<std::string, Fetched> answers{};
};

std::map<std::string, Load> LoadsOf(const ServiceOptions& options,
                                    const SolvedGait& solved,
                                    int gait_count) {
  std::map<std::string, Load> loads;
  for (const char* call : kCalls) {
    const std::string name = call;
    Load& load = loads[name];
    load.method = "/gaitshelf.v1.LibraryService/" + name.substr(0, name.find(' '));
    load.call_count = options.call_count;
    load.seconds = options.seconds;
  }
  for (int i = 0; i < gait_count; ++i) {
    v1::GetGaitRequest get;
    get.set_name(CopyName(i));
    loads["GetGait"].requests.push_back(get.SerializeAsString());
    v1::FindGaitRequest find;
    *find.mutable_order() = CopyOrder(solved, i);
    loads["FindGait"].requests.push_back(find.SerializeAsString());
  }
  loads["ListGaits"].requests.push_back("");
  v1::ListGaitsRequest list;
  list.set_robot(kRareRobot);
  // As many as the smallest library has, or a larger one would only answer more.
  list.set_page_size(1);
  loads["ListGaits of one robot"].requests.push_back(list.SerializeAsString());
  return loads;
}

absl::Status Fill(const SolvedGait& solved, LibraryHome* home, Size* size) {
  GAITSHELF_ASSIGN_OR_RETURN(size->library, home->Add(absl::StrCat("size_", size->gait_count)));
  const auto begin = std::chrono::steady_clock::now();
  GAITSHELF_RETURN_IF_ERROR(FillLibrary(size->library, solved, size->gait_count));
  size->fill_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
  GAITSHELF_ASSIGN_OR_RETURN(size->library_mb, home->SizeMb(size->library));
  return absl::OkStatus();
}

// Starts servers by turns; the last of each size stays.
absl::Status StartServers(const ServiceOptions& options,
                          const LibraryHome& home,
                          std::vector<Size>* sizes) {
  for (int i = 0; i < kStarts; ++i) {
    for (Size& size : *sizes) {
      size.server.reset();
      const std::string address =
          absl::StrCat("unix:", home.folder().File(absl::StrCat(size.gait_count)));
      GAITSHELF_ASSIGN_OR_RETURN(
          size.server,
          Program::Start({options.server, "--library", size.library, "--listen", address}));
      size.start_s.push_back(size.server->start_s());
    }
  }
  return absl::OkStatus();
}

// Waits until a server has loaded the gaits that its memory takes: until it does nothing.
void AwaitQuiet(const Program& server) {
  constexpr std::chrono::milliseconds kPause(500);
  constexpr double kIdleShare = 0.1;
  double last_s = 0.0;
  double now_s = ProcessSeconds(server.process());
  do {
    last_s = now_s;
    std::this_thread::sleep_for(kPause);
    now_s = ProcessSeconds(server.process());
  } while (now_s - last_s > kIdleShare * std::chrono::duration<double>(kPause).count());
}

absl::Status RunRounds(const ServiceOptions& options, std::vector<Size>* sizes) {
  for (int round = -1; round < options.rounds; ++round) {
    for (const char* call : kCalls) {
      for (std::size_t turn = 0; turn < sizes->size(); ++turn) {
        Size& size = (*sizes)[(turn + static_cast<std::size_t>(round + 1)) % sizes->size()];
        Load& load = size.loads[call];
        load.rng = static_cast<unsigned>(round + 1);
        GAITSHELF_ASSIGN_OR_RETURN(const Fetched fetched, size.fetcher->Run(load));
        if (round >= 0) {  // the first is to get warm
          size.answers[call].Add(fetched);
        }
      }
    }
  }
  return absl::OkStatus();
}

Json ReportCall(const Size& size, const Size& smallest, const std::string& call) {
  const std::vector<double>& own = size.answers.at(call).answer_us;
  const std::vector<double>& other = smallest.answers.at(call).answer_us;
  const double p50_ratio = Quantile(own, 0.5) / Quantile(other, 0.5);
  const double p99_ratio = Quantile(own, 0.99) / Quantile(other, 0.99);
  std::printf("size %6d gaits, %-22s p50 %6.0f us (%.2f), p99 %6.0f us (%.2f)\n",
              size.gait_count,
              call.c_str(),
              Quantile(own, 0.5),
              p50_ratio,
              Quantile(own, 0.99),
              p99_ratio);
  return Json::Object()
      .Set("call", call)
      .Set("count", own.size())
      .Set("p50_us", Quantile(own, 0.5))
      .Set("p99_us", Quantile(own, 0.99))
      .Set("p50_ratio", p50_ratio)
      .Set("p99_ratio", p99_ratio);
}

Json Report(const Size& size, const Size& smallest) {
  Json calls = Json::List();
  for (const char* call : kCalls) {
    calls.Add(ReportCall(size, smallest, call));
  }
  const Memory memory = ProcessMemory(size.server->process());
  std::printf("size %6d gaits: start %.2f s (%.2f to %.2f), memory %.0f MB, most %.0f MB\n",
              size.gait_count,
              Quantile(size.start_s, 0.5),
              Quantile(size.start_s, 0.0),
              Quantile(size.start_s, 1.0),
              memory.now_mb,
              memory.peak_mb);
  return Json::Object()
      .Set("gaits", size.gait_count)
      .Set("library_mb", size.library_mb)
      .Set("fill_s", size.fill_s)
      .Set("start_s", Quantile(size.start_s, 0.5))
      .Set("start_most_s", Quantile(size.start_s, 1.0))
      .Set("server_mb", memory.now_mb)
      .Set("server_peak_mb", memory.peak_mb)
      .Set("calls", calls);
}

absl::StatusOr<Json> MeasureSizeIn(const ServiceOptions& options,
                                   const SolvedGait& solved,
                                   const std::string& database) {
  LibraryHome home(database);
  std::vector<Size> sizes(options.gait_counts.size());
  for (std::size_t i = 0; i < sizes.size(); ++i) {
    sizes[i].gait_count = options.gait_counts[i];
    GAITSHELF_RETURN_IF_ERROR(Fill(solved, &home, &sizes[i]));
  }
  GAITSHELF_RETURN_IF_ERROR(StartServers(options, home, &sizes));
  for (Size& size : sizes) {
    AwaitQuiet(*size.server);
    size.fetcher = std::make_unique<Fetcher>(size.server->addresses().front(), kConnections);
    size.loads = LoadsOf(options, solved, size.gait_count);
  }
  GAITSHELF_RETURN_IF_ERROR(RunRounds(options, &sizes));
  std::printf("size of libraries in %s:\n", database.c_str());
  Json rows = Json::List();
  for (const Size& size : sizes) {
    rows.Add(Report(size, sizes.front()));
  }
  return Json::Object()
      .Set("database", database)
      .Set("gait_bytes", solved.gait.ByteSizeLong())
      .Set("calls_at_a_time", options.call_count)
      .Set("sizes", rows);
}

}  // namespace

absl::StatusOr<Json> MeasureSize(const ServiceOptions& options) {
  GAITSHELF_ASSIGN_OR_RETURN(const SolvedGait solved,
                             SolveGait("weevil-lumped", options.knot_count));
  return MeasureDatabases(options, solved, MeasureSizeIn);
}

}  // namespace gaitshelf::bench
