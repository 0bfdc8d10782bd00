// The verb that streams setpoints. Streams that may reach a drive stage are armed by a person here.
#include <istream>
#include <optional>
#include <ostream>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_join.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/json.h"
#include "clients/cli/output_file.h"
#include "clients/cli/quantity.h"
#include "clients/cli/session.h"
#include "clients/cli/setpoint_text.h"

namespace gaitshelf::client {
namespace {

// Rows of the compact table per second of stream: a person cannot read more.
constexpr double kRowsPerSecond = 20.0;

constexpr char kCaution[] =
    "CAUTION: these setpoints are for a drive stage with an armed robot on it.\n"
    "  Piezo drives carry 100 to 300 V: electric shock hazard. Actuators stay charged after the\n"
    "  drive is off. Legs and body move without warning. Keep hands and eyes clear, have the\n"
    "  emergency stop at hand, and follow local codes and the maker's manual. A licensed or\n"
    "  trained person decides whether this is safe; this program does not.\n";

absl::StatusOr<v1::StreamSetpointsRequest> ReadStreamRequest(const Arguments& arguments) {
  std::vector<std::string> faults;
  v1::StreamSetpointsRequest request;
  request.set_gait(arguments.Word(0));
  const std::string seconds = arguments.Value("seconds").value_or("");
  double duration_s = 0.0;
  if (arguments.Has("seconds") && !absl::SimpleAtod(seconds, &duration_s)) {
    const auto with_unit = ParseQuantity(seconds, Dimension::kTime);
    if (with_unit.ok()) {
      duration_s = *with_unit;
    } else {
      faults.push_back(
          absl::StrCat("--seconds: '", seconds, "' is not a time; write a number, such as 2"));
    }
  }
  request.set_duration_s(duration_s);
  if (const auto rate = arguments.Value("rate"); rate.has_value()) {
    const auto rate_hz = ParseQuantity(*rate, Dimension::kFrequency);
    if (rate_hz.ok()) {
      request.set_sample_rate_hz(*rate_hz);
    } else {
      faults.push_back(absl::StrCat("--rate: ", rate_hz.status().message()));
    }
  }
  if (const auto bits = arguments.Value("drive-bits"); bits.has_value()) {
    int drive_bits = 0;
    if (!absl::SimpleAtoi(*bits, &drive_bits)) {
      faults.push_back(absl::StrCat("--drive-bits: '", *bits, "' is not a whole number"));
    }
    request.set_drive_bits(drive_bits);
  }
  request.set_is_preview(arguments.Has("preview"));
  request.set_is_unpaced(arguments.Has("unpaced"));
  request.set_armed_by(arguments.Value("armed-by").value_or(""));
  if (request.is_preview() == arguments.Has("armed-by")) {
    faults.emplace_back(
        "say either --preview (only look at the samples) or --armed-by NAME (a present person arms "
        "the drive)");
  }
  if (request.is_unpaced() && !request.is_preview()) {
    faults.emplace_back("--unpaced goes with --preview only");
  }
  if (!faults.empty()) {
    return absl::InvalidArgumentError(absl::StrJoin(faults, "\n"));
  }
  return request;
}

// Shows the caution and waits for the word. There is no flag that skips it.
bool IsArmed(const std::string& name, const Session& session) {
  session.console.err << kCaution << name << ", type \"arm\" to start: " << std::flush;
  std::string answer;
  return std::getline(session.console.in, answer) && answer == "arm";
}

// Where the samples go.
class Sink {
 public:
  Sink(const Session& session, std::optional<std::string> csv_path) : session_(session) {
    if (csv_path.has_value()) {
      file_.emplace(*csv_path);
    }
  }

  absl::Status Write(const v1::SetpointBlock& block, const BlockChecker& checker) {
    if (file_.has_value()) {
      WriteCsv(block, checker, file_->stream());
      return file_->Check();
    }
    if (session_.is_json) {
      session_.console.out << ToJsonLine(block);
      return absl::OkStatus();
    }
    if (!session_.console.out_is_terminal) {
      WriteCsv(block, checker, session_.console.out);
      return absl::OkStatus();
    }
    if (block.first_sample() == 0) {
      session_.console.out << CompactHeading(checker.leg_names());
    }
    for (int sample = 0; sample < block.sample_count(); ++sample) {
      const double time_s = block.first_sample_time_s() + sample * block.sample_period_s();
      // Half a sample of slack keeps rounding from dropping a row.
      if (time_s + 0.5 * block.sample_period_s() >= next_row_s_) {
        session_.console.out << CompactRow(block, sample);
        next_row_s_ += 1.0 / kRowsPerSecond;
      }
    }
    session_.console.out << std::flush;
    return absl::OkStatus();
  }

  // Gives the file its name: what stands there under that name is whole.
  absl::Status Finish() { return file_.has_value() ? file_->Finish() : absl::OkStatus(); }

  std::string PartPath() const { return file_.has_value() ? file_->part_path() : ""; }
  bool has_file() const { return file_.has_value(); }

 private:
  static void WriteCsv(const v1::SetpointBlock& block,
                       const BlockChecker& checker,
                       std::ostream& out) {
    if (block.first_sample() == 0) {
      out << CsvHeading(checker.leg_names(), checker.foot_names());
    }
    out << CsvRows(block) << std::flush;
  }

  const Session& session_;
  std::optional<OutputFile> file_;
  double next_row_s_ = 0.0;
};

int Stream(const Arguments& arguments, Session& session) {
  auto request = ReadStreamRequest(arguments);
  if (!request.ok()) {
    return Fail(session, request.status());
  }
  if (!request->is_preview() && !IsArmed(request->armed_by(), session)) {
    return Fail(session, absl::FailedPreconditionError("not armed; nothing was streamed"));
  }
  Sink sink(session, arguments.Value("csv"));
  BlockChecker checker;
  grpc::ClientContext context;
  const InterruptScope interrupt(session.console.interrupts, [&context] { context.TryCancel(); });
  const auto reader = session.server.playback->StreamSetpoints(&context, *request);
  v1::SetpointBlock block;
  absl::Status local = absl::OkStatus();
  while (local.ok() && reader->Read(&block)) {
    local = checker.Check(block);
    if (local.ok()) {
      local = sink.Write(block, checker);
    }
  }
  if (!local.ok()) {
    context.TryCancel();
  }
  const grpc::Status status = reader->Finish();
  if (interrupt.was_interrupted()) {
    session.console.err << "gaitshelf: interrupted after " << checker.sample_count() << " samples"
                        << (sink.has_file() ? absl::StrCat("; kept in ", sink.PartPath()) : "")
                        << std::endl;
    return kExitInterrupted;
  }
  if (local.ok() && status.ok()) {
    local = sink.Finish();
  }
  if (!local.ok()) {
    return Fail(session, local);
  }
  if (!status.ok()) {
    return Fail(session, status);
  }
  session.console.err << absl::StrFormat(
      "%d samples, the last at %.3f s\n",
      checker.sample_count(),
      block.first_sample_time_s() + (block.sample_count() - 1) * block.sample_period_s());
  return kExitOk;
}

}  // namespace

std::vector<Verb> StreamVerbs() {
  return {
      {{"stream",
        {"GAIT"},
        "stream the setpoints of a gait",
        "Shows a compact table on a terminal, CSV elsewhere. A preview is only looked at; a "
        "stream\n"
        "for a drive stage is armed by a present person, who types the word \"arm\".\n"
        "In the table: x is a foot in contact, then lift and swing of each leg, mm.",
        "gaitshelf stream g-0123456789abcdef0123456789abcdef --seconds 2 --preview\n"
        "gaitshelf stream g-0123456789abcdef0123456789abcdef --seconds 2 --preview "
        "--rate 2kHz --unpaced --csv setpoints.csv\n"
        "gaitshelf stream g-0123456789abcdef0123456789abcdef --seconds 1 --armed-by pilot",
        {{"seconds", "NUMBER", "length of the stream without its ramps", true},
         {"rate", "FREQUENCY", "setpoints per second, such as 1kHz (the default)"},
         {"drive-bits", "NUMBER", "round voltages to a converter of 8 to 24 bits"},
         {"csv", "FILE", "write CSV with a header and units to a file"},
         {"preview", "", "only look at the samples, they must not reach a drive stage"},
         {"unpaced", "", "send a preview as fast as it can be read"},
         {"armed-by", "NAME", "the present person who arms the drive"}}},
       Stream,
       [](const Arguments& arguments) { return ReadStreamRequest(arguments).status(); }},
  };
}

}  // namespace gaitshelf::client
