// gaitshelfd: opens the library, starts the dispatcher and serves until it is told to stop.
//
// Exit status: 0 after a stop that was asked for, 2 for wrong arguments, 1 for anything else.
#include <atomic>
#include <csignal>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_split.h"
#include "service/access/door.h"
#include "service/api/check_setup.h"
#include "service/api/command_line.h"
#include "service/api/gait_memory.h"
#include "service/api/server.h"
#include "service/jobs/local_dispatcher.h"
#include "service/jobs/round_thread.h"
#include "service/jobs/slurm_dispatcher.h"
#include "service/library/gait_loader.h"
#include "service/library/open_library.h"
#include "service/library/room.h"
#include "service/log/write_events.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

// What others have put into the library since the last time is in memory after this, s.
constexpr double kLoadPeriodS = 300;

// Keeps the stop signals for WaitForStop, in this thread and all that it starts.
sigset_t BlockStopSignals() {
  sigset_t signals;
  sigemptyset(&signals);
  sigaddset(&signals, SIGTERM);
  sigaddset(&signals, SIGINT);
  pthread_sigmask(SIG_BLOCK, &signals, nullptr);
  std::signal(SIGPIPE, SIG_IGN);
  // A limit of the size of files is told like a full disk, and kills nobody.
  std::signal(SIGXFSZ, SIG_IGN);
  return signals;
}

// Tells whether a stop signal waits to be taken.
bool IsStopWished() {
  sigset_t pending;
  sigpending(&pending);
  return sigismember(&pending, SIGTERM) == 1 || sigismember(&pending, SIGINT) == 1;
}

absl::StatusOr<std::unique_ptr<Dispatcher>> StartDispatcher(const CommandLine& line,
                                                            Library* library,
                                                            const EventLog& log) {
  const std::vector<std::string> worker = {WorkerProgramOf(line),
                                           "--library",
                                           line.library,
                                           "--log-format",
                                           LogFormatName(line.log_format)};
  if (line.uses_slurm) {
    SlurmDispatcherOptions options;
    options.library = line.library;
    options.worker_command = worker;
    options.task_limit = line.worker_count;
    options.partition = line.slurm_partition;
    options.limit_min = line.slurm_limit_min;
    options.log_folder = line.slurm_log_folder;
    options.log = log;
    return StartSlurmDispatcher(library, options);
  }
  LocalDispatcherOptions options;
  options.worker_command = worker;
  options.slot_count = line.worker_count;
  options.log = log;
  return StartLocalDispatcher(library, options);
}

// What the command line says of the server.
ServerOptions OptionsOf(const CommandLine& line) {
  ServerOptions options;
  options.listen = line.listen;
  options.tls_folder = line.tls_folder;
  options.call_limit = line.call_limit;
  options.calls_per_member = line.calls_per_member;
  options.metrics_address = line.metrics_address;
  options.disk_folder = IsDatabaseAddress(line.library) ? "" : FolderOf(line.library);
  options.least_disk_bytes = std::int64_t{line.least_disk_mb} << 20;
  options.care.backup_folder = line.backup_folder;
  return options;
}

absl::Status Serve(const CommandLine& line, const EventLog& log) {
  const sigset_t signals = BlockStopSignals();
  KeepProtobufLog(log);
  KeepGrpcLog(log);
  absl::StatusOr<std::unique_ptr<Library>> opened =
      OpenLibrary(line.library,
                  {.queue_limit = line.queue_limit,
                   .jobs_per_member = line.jobs_per_member,
                   .opening_patience_s = static_cast<double>(line.library_wait_s),
                   .is_given_up = IsStopWished,
                   .gait_memory_bytes = GaitMemoryBytes(line.gait_memory_mb, MachineMemoryBytes()),
                   .log = log});
  if (absl::IsUnavailable(opened.status()) && IsStopWished()) {
    Tell(log, {.what = "server has stopped before it could reach the library"});
    return absl::OkStatus();
  }
  GAITSHELF_ASSIGN_OR_RETURN(const std::unique_ptr<Library> library, std::move(opened));
  // The server comes first: when the socket is another server's, no job may be touched.
  std::atomic<Dispatcher*> to_wake = nullptr;
  ServerOptions options = OptionsOf(line);
  options.library = library.get();
  options.wake_dispatcher = [&to_wake] {
    if (Dispatcher* const dispatcher = to_wake; dispatcher != nullptr) {
      dispatcher->Wake();
    }
  };
  options.log = log;
  GAITSHELF_ASSIGN_OR_RETURN(const std::unique_ptr<Server> server, StartServer(options));
  absl::StatusOr<std::unique_ptr<Dispatcher>> dispatcher =
      StartDispatcher(line, library.get(), log);
  if (!dispatcher.ok()) {
    server->Stop();
    return dispatcher.status();
  }
  to_wake = dispatcher->get();
  (*dispatcher)->Wake();
  if (server->metrics_port() != 0) {
    Tell(log,
         {.what = "metrics are served",
          .fields = {
              {"at", absl::StrCat("http://127.0.0.1:", server->metrics_port(), "/metrics")}}});
  }
  Tell(log,
       {.what = "server is ready", .fields = {{"at", absl::StrJoin(server->addresses(), " ")}}});
  // The line that scripts wait for.
  std::printf("gaitshelfd is ready on %s\n", absl::StrJoin(server->addresses(), " ").c_str());
  std::fflush(stdout);
  GaitLoader loader(library.get(), log);
  RoundThread loading(kLoadPeriodS, [&loader] { loader.Load(); }, {});
  int signal = 0;
  sigwait(&signals, &signal);
  Tell(log,
       {.what = "server is stopping",
        .fields = {{"signal", signal == SIGINT ? "SIGINT" : "SIGTERM"}}});
  loader.Stop();
  server->Stop();
  (*dispatcher)->Stop();
  loading.Stop();
  Tell(log, {.what = "server has stopped"});
  return absl::OkStatus();
}

// Serves and tells the log what keeps it from that, a line for each fault; returns the exit status.
int ServeAndTell(const CommandLine& line) {
  const EventLog log = WriteEventsTo(stderr, line.log_format);
  absl::Status status;
  try {
    status = Serve(line, log);
  } catch (const std::exception& error) {
    status = absl::InternalError(error.what());
  }
  if (status.ok()) {
    return 0;
  }
  for (const absl::string_view reason : absl::StrSplit(status.message(), '\n')) {
    Tell(
        log,
        {.level = LogLevel::kError, .what = "server cannot serve", .fields = {{"reason", reason}}});
  }
  return 1;
}

int Run(const std::vector<std::string>& arguments) {
  // The server reads its environment before it starts a thread.
  const char* runtime_folder = std::getenv("XDG_RUNTIME_DIR");  // NOLINT(concurrency-mt-unsafe)
  const bool has_folder = runtime_folder != nullptr && *runtime_folder != '\0';
  const absl::StatusOr<CommandLine> line =
      ParseCommandLine(arguments, has_folder ? runtime_folder : "/tmp");
  if (!line.ok()) {
    std::fprintf(stderr, "gaitshelfd: %s\n", std::string(line.status().message()).c_str());
    return 2;
  }
  if (line->wants_help) {
    std::fputs(HelpText(), stdout);
    return 0;
  }
  if (line->wants_check) {
    const absl::Status status = CheckSetup(*line);
    std::fprintf(stderr,
                 "gaitshelfd: %s\n",
                 status.ok() ? "all of this can work" : std::string(status.message()).c_str());
    return status.ok() ? 0 : 2;
  }
  return ServeAndTell(*line);
}

}  // namespace
}  // namespace gaitshelf::service

int main(int count, char** values) {
  try {
    return gaitshelf::service::Run(std::vector<std::string>(values + 1, values + count));
  } catch (const std::exception& error) {
    std::fprintf(stderr, "gaitshelfd: %s\n", error.what());
    return 1;
  }
}
