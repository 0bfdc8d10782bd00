// The verb trial pose: where the body was, as a control loop would have known it.
#include <optional>
#include <ostream>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_join.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/json.h"
#include "clients/cli/quantity.h"
#include "clients/cli/session.h"

namespace gaitshelf::client {
namespace {

// Reads a flag into a field when it is given; a fault is added.
template <typename Set>
void ReadFlag(const Arguments& arguments,
              const std::string& flag,
              Dimension dimension,
              const Set& set,
              std::vector<std::string>* faults) {
  const std::optional<std::string> text = arguments.Value(flag);
  if (!text.has_value()) {
    return;
  }
  const absl::StatusOr<double> value = ParseQuantity(*text, dimension);
  if (value.ok()) {
    set(*value);
  } else {
    faults->push_back(absl::StrCat("--", flag, ": ", value.status().message()));
  }
}

absl::StatusOr<v1::StreamTrialPoseRequest> ReadPoseRequest(const Arguments& arguments) {
  v1::StreamTrialPoseRequest request;
  std::vector<std::string> faults;
  request.set_name(arguments.words()[0]);
  ReadFlag(
      arguments,
      "delay",
      Dimension::kTime,
      [&](double value) { request.set_delay_s(value); },
      &faults);
  ReadFlag(
      arguments,
      "greatest-delay",
      Dimension::kTime,
      [&](double value) { request.mutable_options()->set_greatest_delay_s(value); },
      &faults);
  ReadFlag(
      arguments,
      "rate",
      Dimension::kFrequency,
      [&](double value) { request.set_sample_rate_hz(value); },
      &faults);
  if (!faults.empty()) {
    return absl::InvalidArgumentError(absl::StrJoin(faults, "\n"));
  }
  return request;
}

// Rows in the form that trial put reads.
void PrintRows(const v1::TrialPoseBlock& block, std::ostream& out) {
  for (int i = 0; i < block.time_s_size(); ++i) {
    out << absl::StrFormat("%.9g", block.time_s(i));
    for (int axis = 0; axis < 3; ++axis) {
      out << absl::StrFormat(",%.6f", 1e3 * block.body_position_m(3 * i + axis));
    }
    for (int axis = 0; axis < 3; ++axis) {
      out << absl::StrFormat(",%.7f", block.body_attitude_rad(3 * i + axis));
    }
    out << "\n";
  }
}

int TrialPose(const Arguments& arguments, Session& session) {
  const absl::StatusOr<v1::StreamTrialPoseRequest> request = ReadPoseRequest(arguments);
  if (!request.ok()) {
    return Fail(session, request.status());
  }
  grpc::ClientContext context;
  SetLongDeadline(context);
  SetRequester(context);
  const auto reader = session.server.trials->StreamTrialPose(&context, *request);
  v1::TrialPoseBlock all, block;
  bool is_first = true;
  while (reader->Read(&block)) {
    if (session.is_json) {
      all.set_delay_s(block.delay_s());
      block.clear_delay_s();
      all.MergeFrom(block);
      continue;
    }
    if (is_first) {
      session.console.out << absl::StrFormat(
          "# estimated pose; tracking %.4g ms late\n"
          "time [s],body x [mm],body y [mm],body z [mm],body roll [rad],body pitch [rad],"
          "body yaw [rad]\n",
          1e3 * block.delay_s());
      is_first = false;
    }
    PrintRows(block, session.console.out);
  }
  const grpc::Status status = reader->Finish();
  if (!status.ok()) {
    return Fail(session, status);
  }
  if (session.is_json) {
    session.console.out << ToJson(all);
  }
  return kExitOk;
}

}  // namespace

std::vector<Verb> TrialPoseVerbs() {
  return {{{"trial pose",
            {"TRIAL"},
            "estimate the pose of the body through a trial, as CSV",
            "At each step of the controller: from tracking that comes late, the legs and\n"
            "the planned contacts, as a control loop would have known it. The delay of the\n"
            "tracking is found as by trial analyse, unless it is given.",
            "gaitshelf trial pose t-0123456789abcdef0123456789abcdef --delay 40ms --rate 100Hz",
            {{"delay", "TIME", "tracking is late by this"},
             {"greatest-delay", "TIME", "tracking lags by less than this, such as 50ms"},
             {"rate", "FREQUENCY", "poses a second; every step when absent"}}},
           TrialPose}};
}

}  // namespace gaitshelf::client
