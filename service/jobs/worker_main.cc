// gaitshelf-worker: takes one job from a library, solves it and exits. Started by a dispatcher; run
// by hand it does the same. With --attempt the dispatcher has claimed the job; with --owner the
// worker claims it itself, in the owner's name, and gives it back when it is stopped.
//
// Exit status: 0 the job has ended (or belongs to another attempt), 75 stopped before the end, on
// request or because the library was out of reach or full, 2 wrong arguments, 1 anything else.
#include <atomic>
#include <csignal>
#include <cstdint>
#include <cstdio>
#include <exception>
#include <memory>
#include <optional>
#include <string>

#include <sys/prctl.h>
#include <sys/resource.h>
#include <unistd.h>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "service/jobs/worker_job.h"
#include "service/library/open_library.h"
#include "service/log/write_events.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

constexpr char kUsage[] =
    "usage: gaitshelf-worker --library PATH|ADDRESS --job NAME (--attempt N | --owner TEXT) "
    "[--parent PID] [--memory-limit-mb N] [--log-format logfmt|json]\n";
constexpr int kStoppedExit = 75;
// A solve is worth waiting for a database that is started again.
constexpr double kPatienceS = 20;

std::atomic<bool> stop_flag{false};
static_assert(std::atomic<bool>::is_always_lock_free, "the signal handler writes it");

struct Arguments {
  std::string library{};
  JobFence fence{};  // without an attempt when the worker claims the job itself
  std::string owner{};
  int parent = 0;                    // process that must live; 0 for none
  std::int64_t memory_limit_mb = 0;  // 0 for no limit
  LogFormat log_format = LogFormat::kLogfmt;
};

// Reads a whole number above 0.
template <typename Number>
absl::Status ReadCount(const std::string& flag, const std::string& value, Number* into) {
  if (absl::SimpleAtoi(value, into) && *into > 0) {
    return absl::OkStatus();
  }
  return absl::InvalidArgumentError(
      absl::StrCat(flag, " is '", value, "'; give a whole number above 0"));
}

absl::Status ReadFlag(const std::string& flag, const std::string& value, Arguments* arguments) {
  if (flag == "--library") {
    arguments->library = value;
  } else if (flag == "--job") {
    arguments->fence.job = value;
  } else if (flag == "--attempt") {
    return ReadCount(flag, value, &arguments->fence.attempt);
  } else if (flag == "--owner") {
    arguments->owner = value;
  } else if (flag == "--parent") {
    return ReadCount(flag, value, &arguments->parent);
  } else if (flag == "--memory-limit-mb") {
    return ReadCount(flag, value, &arguments->memory_limit_mb);
  } else if (flag == "--log-format") {
    const std::optional<LogFormat> format = ParseLogFormat(value);
    if (!format.has_value()) {
      return absl::InvalidArgumentError(
          absl::StrCat(flag, " is '", value, "'; give logfmt or json"));
    }
    arguments->log_format = *format;
  } else {
    return absl::InvalidArgumentError(absl::StrCat(flag, " is not a flag of this program"));
  }
  return absl::OkStatus();
}

absl::StatusOr<Arguments> ReadArguments(int count, char** values) {
  Arguments arguments;
  for (int i = 1; i < count; i += 2) {
    if (i + 1 >= count) {
      return absl::InvalidArgumentError(absl::StrCat(values[i], " has no value"));
    }
    GAITSHELF_RETURN_IF_ERROR(ReadFlag(values[i], values[i + 1], &arguments));
  }
  if (arguments.library.empty() || arguments.fence.job.empty() ||
      (arguments.fence.attempt < 1) == arguments.owner.empty()) {
    return absl::InvalidArgumentError(
        "--library, --job and either --attempt (from 1) or --owner are required");
  }
  return arguments;
}

void FollowSignals() {
  struct sigaction action = {};
  action.sa_handler = [](int) { stop_flag = true; };
  sigaction(SIGTERM, &action, nullptr);
  sigaction(SIGINT, &action, nullptr);
  // A limit of the size of files is told like a full disk.
  std::signal(SIGXFSZ, SIG_IGN);
}

// A worker must not outlive the server that looks after it.
void FollowParent(int parent) {
  if (parent == 0) {
    return;
  }
  prctl(PR_SET_PDEATHSIG, SIGTERM);
  if (getppid() != parent) {
    stop_flag = true;  // it died before the line above
  }
}

absl::Status LimitMemory(std::int64_t limit_mb) {
  if (limit_mb == 0) {
    return absl::OkStatus();
  }
  const rlim_t bytes = static_cast<rlim_t>(limit_mb) << 20;
  const rlimit limit{.rlim_cur = bytes, .rlim_max = bytes};
  return setrlimit(RLIMIT_AS, &limit) == 0
             ? absl::OkStatus()
             : absl::InternalError("the memory limit could not be set");
}

std::string HostName() {
  char name[256] = {};
  return gethostname(name, sizeof(name) - 1) == 0 ? name : "";
}

absl::StatusOr<JobRunEnd> Run(Library* library, const JobFence& fence) {
  return RunJob(
      library,
      fence,
      JobSolver{.plan = solver::PlanGait,
                .audit = solver::AuditGait,
                .spread = solver::ComputeSpread,
                .hand_tuned = solver::FindHandTuned},
      RunJobOptions{.stop = &stop_flag, .program_version = GAITSHELF_VERSION, .host = HostName()});
}

// Tells whether the library was out of reach or full for longer than a worker waits. Neither is the
// job's fault, nor the worker's.
bool IsStorageTrouble(const absl::Status& status) {
  return absl::IsUnavailable(status) || absl::IsResourceExhausted(status);
}

absl::StatusOr<JobRunEnd> Work(const Arguments& arguments, const EventLog& log) {
  GAITSHELF_RETURN_IF_ERROR(LimitMemory(arguments.memory_limit_mb));
  GAITSHELF_ASSIGN_OR_RETURN(
      const std::unique_ptr<Library> library,
      OpenLibrary(arguments.library, {.patience_s = kPatienceS, .log = log}));
  JobFence fence = arguments.fence;
  if (!arguments.owner.empty()) {
    const absl::StatusOr<JobAttempt> claim = library->ClaimJob(fence.job, arguments.owner);
    if (absl::IsAborted(claim.status())) {
      return JobRunEnd::kSuperseded;  // a copy, or the job was cancelled before it began
    }
    GAITSHELF_RETURN_IF_ERROR(claim.status());
    fence.attempt = claim->job.attempt();
  }
  const absl::StatusOr<JobRunEnd> end = Run(library.get(), fence);
  const bool is_given_up =
      IsStorageTrouble(end.status()) || (end.ok() && *end == JobRunEnd::kStopped);
  if (is_given_up && !arguments.owner.empty()) {
    const std::string reason =
        end.ok() ? "it was stopped before its end" : std::string(end.status().message());
    const absl::Status status =
        library->RequeueLostJob(fence, {.reason = reason, .is_crash = false}).status();
    return status.ok() || absl::IsAborted(status) ? end : status;
  }
  return end;
}

// The server and all of its workers write to one place: a worker's lines name its job.
EventLog LogOf(const Arguments& arguments) {
  return [write = WriteEventsTo(stderr, arguments.log_format),
          job = arguments.fence.job](LogEvent event) {
    event.fields.insert(event.fields.begin(), LogField("job", job));
    write(event);
  };
}

absl::StatusOr<JobRunEnd> WorkOrCatch(const Arguments& arguments, const EventLog& log) {
  try {
    return Work(arguments, log);
  } catch (const std::exception& error) {
    return absl::InternalError(error.what());
  }
}

int Main(int count, char** values) {
  const absl::StatusOr<Arguments> arguments = ReadArguments(count, values);
  if (!arguments.ok()) {
    const std::string message(arguments.status().message());
    std::fprintf(stderr, "gaitshelf-worker: %s\n%s", message.c_str(), kUsage);
    return 2;
  }
  FollowSignals();
  FollowParent(arguments->parent);
  const EventLog log = LogOf(*arguments);
  KeepProtobufLog(log);
  const absl::StatusOr<JobRunEnd> end = WorkOrCatch(*arguments, log);
  if (!end.ok()) {
    Tell(log,
         {.level = LogLevel::kError,
          .what = "job cannot be worked on",
          .fields = {{"code", absl::StatusCodeToString(end.status().code())},
                     {"reason", end.status().message()}}});
    return IsStorageTrouble(end.status()) ? kStoppedExit : 1;
  }
  return *end == JobRunEnd::kStopped ? kStoppedExit : 0;
}

}  // namespace
}  // namespace gaitshelf::service

int main(int argc, char** argv) {
  try {
    return gaitshelf::service::Main(argc, argv);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "gaitshelf-worker: %s\n", error.what());
    return 1;
  }
}
