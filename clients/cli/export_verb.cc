// The verb export: one cycle of a gait as a table for a microcontroller.
#include <optional>
#include <ostream>
#include <string>
#include <utility>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/gait_table.h"
#include "clients/cli/json.h"
#include "clients/cli/output_file.h"
#include "clients/cli/quantity.h"
#include "clients/cli/session.h"
#include "clients/cli/setpoint_text.h"

namespace gaitshelf::client {
namespace {

// Enough that straight lines between samples stray little from a gait of 120 knots.
constexpr int kDefaultSamples = 128;
constexpr int kDefaultBits = 16;

struct ExportOptions {
  v1::SampleGaitRequest request;
  int bits = kDefaultBits;
  std::string name = "gait";
};

// Reads --sample-rate and --samples; a fault or "".
std::string ReadSamples(const Arguments& arguments, v1::SampleGaitRequest* request) {
  const std::optional<std::string> rate = arguments.Value("sample-rate");
  const std::optional<std::string> samples = arguments.Value("samples");
  if (rate.has_value() && samples.has_value()) {
    return "--samples does not go with --sample-rate; give one of them";
  }
  if (rate.has_value()) {
    const absl::StatusOr<double> rate_hz = ParseQuantity(*rate, Dimension::kFrequency);
    if (!rate_hz.ok()) {
      return absl::StrCat("--sample-rate: ", rate_hz.status().message());
    }
    request->set_sample_rate_hz(*rate_hz);
    return "";
  }
  int count = kDefaultSamples;
  if (samples.has_value() && !absl::SimpleAtoi(*samples, &count)) {
    return absl::StrCat("--samples: '", *samples, "' is not a whole number");
  }
  request->set_sample_count(count);
  return "";
}

absl::StatusOr<ExportOptions> ReadExportOptions(const Arguments& arguments) {
  std::vector<std::string> faults;
  ExportOptions options;
  options.request.set_gait(arguments.Word(0));
  if (std::string fault = ReadSamples(arguments, &options.request); !fault.empty()) {
    faults.push_back(std::move(fault));
  }
  if (const auto bits = arguments.Value("bits"); bits.has_value()) {
    if (!absl::SimpleAtoi(*bits, &options.bits) || options.bits < 8 || options.bits > 32) {
      faults.push_back(absl::StrCat("--bits: '", *bits, "' is not a whole number from 8 to 32"));
    }
  }
  if (const auto name = arguments.Value("name"); name.has_value()) {
    options.name = *name;
    if (!IsTableName(*name)) {
      faults.push_back(absl::StrCat("--name: '",
                                    *name,
                                    "' is no name for C; write a letter, then up to 30 letters, "
                                    "digits and _"));
    }
  }
  if (!faults.empty()) {
    return absl::InvalidArgumentError(absl::StrJoin(faults, "\n"));
  }
  return options;
}

// Prints to the screen, or writes a file whole.
absl::Status Deliver(const std::string& text,
                     const std::optional<std::string>& path,
                     const Session& session) {
  if (!path.has_value()) {
    session.console.out << text;
    return absl::OkStatus();
  }
  OutputFile file(*path);
  file.stream() << text;
  return file.Finish();
}

int Export(const Arguments& arguments, Session& session) {
  const absl::StatusOr<ExportOptions> options = ReadExportOptions(arguments);
  if (!options.ok()) {
    return Fail(session, options.status());
  }
  v1::SetpointBlock block;
  {
    grpc::ClientContext context;
    SetShortDeadline(context);
    const grpc::Status status =
        session.server.playback->SampleGait(&context, options->request, &block);
    if (!status.ok()) {
      return Fail(session, status);
    }
  }
  v1::Gait gait;
  v1::GetGaitRequest request;
  request.set_name(options->request.gait());
  grpc::ClientContext context;
  SetShortDeadline(context);
  const grpc::Status status = session.server.library->GetGait(&context, request, &gait);
  if (!status.ok()) {
    return Fail(session, status);
  }
  if (const absl::Status whole = BlockChecker().Check(block); !whole.ok()) {
    return Fail(session, whole);
  }
  const bool is_csv = arguments.Value("form").value_or("header") == "csv";
  const std::string text = session.is_json ? ToJson(block)
                           : is_csv        ? TableCsv(gait, block, options->bits)
                                           : TableHeader(gait, block, options->name, options->bits);
  const absl::Status delivered = Deliver(text, arguments.Value("out"), session);
  return delivered.ok() ? kExitOk : Fail(session, delivered);
}

}  // namespace

std::vector<Verb> ExportVerbs() {
  return {{{"export",
            {"GAIT"},
            "write one cycle of a gait as a table of integers",
            "Lift, swing, their rates, voltages and contacts at even times, as a C header that\n"
            "compiles by itself, or as CSV. Each array states its unit, so that value = integer\n"
            "* unit, and the worst error of the rounding. A table made for a sample rate is never\n"
            "faster than the gait at that rate. With --json prints the values unrounded.",
            "gaitshelf export g-0123456789abcdef0123456789abcdef -o gait_table.h\n"
            "gaitshelf export g-0123456789abcdef0123456789abcdef --form csv --sample-rate 2kHz",
            {{"form", "header|csv", "what to write; default header"},
             {"samples", "NUMBER", "samples per cycle, 8 to 4096; default 128"},
             {"sample-rate", "FREQUENCY", "samples per second instead, such as 2kHz"},
             {"bits", "NUMBER", "bits of an integer with its sign, 8 to 32; default 16"},
             {"name", "WORD", "begins the names of the header; default gait"},
             {"out", "FILE", "write a file (-o FILE); default: the screen", false, "o"}}},
           Export,
           [](const Arguments& arguments) { return ReadExportOptions(arguments).status(); }}};
}

}  // namespace gaitshelf::client
