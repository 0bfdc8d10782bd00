// The verbs for trials: put, list, show, analyse, compare.
#include "clients/cli/trial_verbs.h"

#include <algorithm>
#include <ostream>
#include <string>
#include <utility>
#include <vector>

#include <google/protobuf/timestamp.pb.h>
#include <google/protobuf/util/time_util.h>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/ascii.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_replace.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/json.h"
#include "clients/cli/quantity.h"
#include "clients/cli/session.h"
#include "clients/cli/trial_file.h"
#include "clients/cli/trial_text.h"

namespace gaitshelf::client {
namespace {

// Values of one message, 0.8 MB of its 1 MiB.
constexpr int kMostBlockValues = 100'000;

std::string DashedName(const std::string& value_name, const std::string& prefix) {
  return absl::StrReplaceAll(absl::AsciiStrToLower(value_name.substr(prefix.size())), {{"_", "-"}});
}

absl::StatusOr<v1::TrialKind> ReadKind(const std::string& text) {
  std::vector<std::string> names;
  for (int kind = v1::TRIAL_KIND_GAIT; kind < v1::TrialKind_ARRAYSIZE; ++kind) {
    names.push_back(
        DashedName(v1::TrialKind_Name(static_cast<v1::TrialKind>(kind)), "TRIAL_KIND_"));
    if (names.back() == text) {
      return static_cast<v1::TrialKind>(kind);
    }
  }
  return absl::InvalidArgumentError(absl::StrCat(
      "--kind: '", text, "' is no kind of trial; use one of ", absl::StrJoin(names, ", ")));
}

struct ReadTrial {
  v1::Trial trial;
  std::vector<TrialFile> files;
};

// Reads the time of --measured.
absl::StatusOr<google::protobuf::Timestamp> ReadTime(const std::string& text) {
  google::protobuf::Timestamp time;
  if (!google::protobuf::util::TimeUtil::FromString(text, &time)) {
    return absl::InvalidArgumentError(
        absl::StrCat("--measured: '",
                     text,
                     "' is no date and time with its zone; write one such as "
                     "2026-11-28T14:30:00Z or 2026-11-28T15:30:00+01:00"));
  }
  return time;
}

absl::StatusOr<ReadTrial> ReadPut(const Arguments& arguments) {
  ReadTrial read;
  std::vector<std::string> faults;
  v1::Trial& trial = read.trial;
  trial.set_gait(arguments.Value("gait").value_or(""));
  trial.set_robot(arguments.Value("robot").value_or(""));
  trial.set_surface(arguments.Value("surface").value_or(""));
  trial.set_title(arguments.Value("title").value_or(""));
  trial.set_is_invented(arguments.Has("invented"));
  trial.set_requester(LoginName());
  const auto kind = ReadKind(arguments.Value("kind").value_or("gait"));
  if (kind.ok()) {
    trial.set_kind(*kind);
  } else {
    faults.emplace_back(kind.status().message());
  }
  if (const auto text = arguments.Value("frequency"); text.has_value()) {
    const auto frequency_hz = ParseQuantity(*text, Dimension::kFrequency);
    if (frequency_hz.ok()) {
      trial.set_stride_frequency_hz(*frequency_hz);
    } else {
      faults.push_back(absl::StrCat("--frequency: ", frequency_hz.status().message()));
    }
  }
  if (const auto text = arguments.Value("measured"); text.has_value()) {
    auto time = ReadTime(*text);
    if (time.ok()) {
      *trial.mutable_measure_time() = *std::move(time);
    } else {
      faults.emplace_back(time.status().message());
    }
  }
  for (const std::string& path : arguments.words()) {
    absl::StatusOr<TrialFile> file = ReadTrialFile(path);
    if (!file.ok()) {
      faults.emplace_back(file.status().message());
      continue;
    }
    v1::TrialGroup* group = trial.add_groups();
    *group = file->group;
    group->set_row_count(static_cast<std::int64_t>(file->values.size()) / group->columns_size());
    read.files.push_back(*std::move(file));
  }
  if (!faults.empty()) {
    return absl::InvalidArgumentError(absl::StrJoin(faults, "\n"));
  }
  return read;
}

// Sends rows until they end or the server has heard enough.
void SendRows(const TrialFile& file,
              int index,
              grpc::ClientWriter<v1::UploadTrialRequest>* writer) {
  const int width = file.group.columns_size();
  const std::int64_t rows_a_block = std::max(1, kMostBlockValues / width);
  const auto row_count = static_cast<std::int64_t>(file.values.size()) / width;
  for (std::int64_t row = 0; row < row_count; row += rows_a_block) {
    v1::UploadTrialRequest request;
    v1::TrialBlock* block = request.mutable_block();
    block->set_group_index(index);
    block->set_first_row(row);
    const auto first = file.values.begin() + row * width;
    const auto last = file.values.begin() + std::min(row_count, row + rows_a_block) * width;
    block->mutable_values_as_labelled()->Add(first, last);
    if (!writer->Write(request)) {
      return;
    }
  }
}

int PutTrial(const Arguments& arguments, Session& session) {
  absl::StatusOr<ReadTrial> read = ReadPut(arguments);
  if (!read.ok()) {
    return Fail(session, read.status());
  }
  grpc::ClientContext context;
  SetLongDeadline(context);
  SetRequester(context);
  v1::UploadTrialResponse response;
  const auto writer = session.server.trials->UploadTrial(&context, &response);
  v1::UploadTrialRequest request;
  *request.mutable_trial() = read->trial;
  if (writer->Write(request)) {
    for (std::size_t i = 0; i < read->files.size(); ++i) {
      SendRows(read->files[i], static_cast<int>(i), writer.get());
    }
  }
  writer->WritesDone();
  const grpc::Status status = writer->Finish();
  if (!status.ok()) {
    return Fail(session, status);
  }
  if (session.is_json) {
    session.console.out << ToJson(response);
    return kExitOk;
  }
  session.console.out << response.trial().name() << (response.is_new() ? " (new)\n" : " (known)\n");
  return kExitOk;
}

int ListTrials(const Arguments& arguments, Session& session) {
  v1::ListTrialsRequest request;
  request.set_robot(arguments.Value("robot").value_or(""));
  request.set_gait(arguments.Value("gait").value_or(""));
  if (const auto text = arguments.Value("kind"); text.has_value()) {
    const auto kind = ReadKind(*text);
    if (!kind.ok()) {
      return Fail(session, kind.status());
    }
    request.set_kind(*kind);
  }
  request.set_page_size(1000);
  v1::ListTrialsResponse all;
  do {
    v1::ListTrialsResponse page;
    grpc::ClientContext context;
    SetShortDeadline(context);
    const grpc::Status status = session.server.trials->ListTrials(&context, request, &page);
    if (!status.ok()) {
      return Fail(session, status);
    }
    all.mutable_trials()->MergeFrom(page.trials());
    request.set_page_token(page.next_page_token());
  } while (!request.page_token().empty());
  if (session.is_json) {
    session.console.out << ToJson(all);
    return kExitOk;
  }
  session.console.out << (all.trials().empty()
                              ? "no trials; store one with: gaitshelf trial put --help\n"
                              : TrialTable(all));
  return kExitOk;
}

int ShowTrial(const Arguments& arguments, Session& session) {
  v1::GetTrialRequest request;
  request.set_name(arguments.words()[0]);
  v1::Trial trial;
  grpc::ClientContext context;
  SetShortDeadline(context);
  const grpc::Status status = session.server.trials->GetTrial(&context, request, &trial);
  if (!status.ok()) {
    return Fail(session, status);
  }
  session.console.out << (session.is_json ? ToJson(trial) : TrialText(trial));
  return kExitOk;
}

int AnalyseTrial(const Arguments& arguments, Session& session) {
  const auto options = ReadAnalysisOptions(arguments);
  if (!options.ok()) {
    return Fail(session, options.status());
  }
  v1::AnalyseTrialRequest request;
  request.set_name(arguments.words()[0]);
  *request.mutable_options() = *options;
  v1::AnalyseTrialResponse response;
  grpc::ClientContext context;
  SetLongDeadline(context);
  SetRequester(context);
  const grpc::Status status = session.server.trials->AnalyseTrial(&context, request, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  session.console.out << (session.is_json ? ToJson(response.analysis())
                                          : AnalysisText(response.analysis()));
  return kExitOk;
}

int CompareTrial(const Arguments& arguments, Session& session) {
  const auto options = ReadAnalysisOptions(arguments);
  if (!options.ok()) {
    return Fail(session, options.status());
  }
  v1::CompareTrialRequest request;
  request.set_name(arguments.words()[0]);
  *request.mutable_options() = *options;
  v1::CompareTrialResponse response;
  grpc::ClientContext context;
  SetLongDeadline(context);
  SetRequester(context);
  const grpc::Status status = session.server.trials->CompareTrial(&context, request, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  session.console.out << (session.is_json ? ToJson(response.comparison())
                                          : ComparisonText(response.comparison()));
  return kExitOk;
}

const char* const kFileHelp =
    "Each FILE is one log as CSV: a heading of names with units, then rows, such as\n"
    "  # clock: tracking\n"
    "  time [ms],body x [mm],body yaw [deg],front-left x [mm]\n"
    "  0,0.00,0.1,15.2\n"
    "Lines with '#' before the heading say the clock (on-board, tracking or bench;\n"
    "on-board when absent), the rate of rows without a time (# rate: 1kHz) and the\n"
    "name of the log. Names: time, phase, power; body x y z roll pitch yaw; of a leg\n"
    "lift, swing, lift voltage, lift current, lift force; of a foot contact, x y z,\n"
    "force x; tilt, pull force, normal force, slide distance, slide time, added\n"
    "mass. An empty cell is a sample that is missing.";

}  // namespace

const std::vector<FlagSpec>& AnalysisFlags() {
  static const auto* const flags = new std::vector<FlagSpec>{
      {"greatest-delay", "TIME", "tracking lags by less than this, such as 50ms"},
      {"leave-out", "COUNT", "cycles at the start that do not count, 1 when absent"}};
  return *flags;
}

absl::StatusOr<v1::AnalysisOptions> ReadAnalysisOptions(const Arguments& arguments) {
  v1::AnalysisOptions options;
  std::vector<std::string> faults;
  if (const auto text = arguments.Value("greatest-delay"); text.has_value()) {
    const auto delay_s = ParseQuantity(*text, Dimension::kTime);
    if (delay_s.ok()) {
      options.set_greatest_delay_s(*delay_s);
    } else {
      faults.push_back(absl::StrCat("--greatest-delay: ", delay_s.status().message()));
    }
  }
  if (const auto text = arguments.Value("leave-out"); text.has_value()) {
    int count = 0;
    if (absl::SimpleAtoi(*text, &count) && count >= 0) {
      options.set_left_out_count(count);
    } else {
      faults.push_back(
          absl::StrCat("--leave-out: '", *text, "' is no whole number from 0 up; write 1"));
    }
  }
  if (!faults.empty()) {
    return absl::InvalidArgumentError(absl::StrJoin(faults, "\n"));
  }
  return options;
}

std::vector<Verb> TrialVerbs() {
  return {
      {{"trial put",
        {"FILE..."},
        "store a measured run",
        kFileHelp,
        "gaitshelf trial put board.csv tracking.csv --gait g-0123456789abcdef0123456789abcdef",
        {{"gait", "GAIT", "the gait that was played"},
         {"kind", "KIND", "gait (default), tilt, sled, ring-down, step or chirp"},
         {"robot", "ROBOT", "the robot of a bench test"},
         {"surface", "SURFACE", "the surface, if not the gait's"},
         {"frequency", "FREQUENCY", "cycles per second that were commanded, if not the gait's"},
         {"title", "TEXT", "what was tried, in one line"},
         {"measured", "TIME", "when it was run, such as 2026-11-28T14:30:00Z"},
         {"invented", "", "nobody measured this"}}},
       PutTrial},
      {{"trial list",
        {},
        "list trials, newest first",
        "",
        "gaitshelf trial list --robot weevil --kind gait",
        {{"robot", "ROBOT", "only trials of this robot"},
         {"gait", "GAIT", "only trials of this gait"},
         {"kind", "KIND", "only trials of this kind"}}},
       ListTrials},
      {{"trial show",
        {"TRIAL"},
        "show a trial: what was run and which logs were taken",
        "",
        "gaitshelf trial show t-0123456789abcdef0123456789abcdef",
        {}},
       ShowTrial},
      {{"trial analyse",
        {"TRIAL"},
        "find stride, footfalls, slip, leg errors and cost of transport",
        "Slip is the distance between the places where a foot landed and where it left.",
        "gaitshelf trial analyse t-0123456789abcdef0123456789abcdef --greatest-delay 50ms",
        AnalysisFlags()},
       AnalyseTrial},
      {{"trial compare",
        {"TRIAL"},
        "set a trial beside plan, replay and hand-tuned gait",
        "Ranks what differs from the plan by its effect on the stride. Slip is measured\n"
        "from landing to leaving; plan and replay give the whole way of sliding.",
        "gaitshelf trial compare t-0123456789abcdef0123456789abcdef",
        AnalysisFlags()},
       CompareTrial},
  };
}

}  // namespace gaitshelf::client
