// The verbs that carry gaits from library to library: bundle export, bundle import.
#include <cstddef>
#include <fstream>
#include <ostream>
#include <string>

#include "absl/status/status.h"
#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/str_split.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/json.h"
#include "clients/cli/output_file.h"
#include "clients/cli/session.h"

namespace gaitshelf::client {
namespace {

constexpr std::size_t kPieceBytes = 256 << 10;

int ExportBundle(const Arguments& arguments, Session& session) {
  const std::string path = arguments.words()[0];
  v1::ExportBundleRequest request;
  if (const auto gaits = arguments.Value("gaits"); gaits.has_value()) {
    for (const absl::string_view name : absl::StrSplit(*gaits, ',', absl::SkipEmpty())) {
      request.add_gaits(std::string(name));
    }
  }
  request.set_robot(arguments.Value("robot").value_or(""));
  request.set_surface(arguments.Value("surface").value_or(""));
  request.set_only_good(arguments.Has("good"));
  grpc::ClientContext context;
  const InterruptScope interrupt(session.console.interrupts, [&context] { context.TryCancel(); });
  OutputFile file(path);
  std::size_t size = 0;
  const auto reader = session.server.care->ExportBundle(&context, request);
  v1::ExportBundleResponse response;
  while (file.Check().ok() && reader->Read(&response)) {
    file.stream() << response.piece();
    size += response.piece().size();
  }
  absl::Status written = file.Check();
  if (!written.ok()) {
    context.TryCancel();
  }
  const grpc::Status status = reader->Finish();
  if (written.ok() && status.ok()) {
    written = file.Finish();
  }
  if (!written.ok() || !status.ok()) {
    file.Abandon();
    return written.ok() ? Fail(session, status) : Fail(session, written);
  }
  if (session.is_json) {
    session.console.out << absl::StrFormat(
        "{\"file\": \"%s\", \"size_bytes\": %d}\n", absl::CHexEscape(path), size);
  } else {
    session.console.err << absl::StrFormat("%s, %.2f MB\n", path, static_cast<double>(size) * 1e-6);
  }
  return kExitOk;
}

int ImportBundle(const Arguments& arguments, Session& session) {
  const std::string path = arguments.words()[0];
  std::ifstream file(path, std::ios::binary);
  if (!file.good()) {
    return Fail(session,
                absl::InvalidArgumentError(
                    absl::StrCat("cannot read ", path, "; give a file that an export wrote")));
  }
  v1::ImportBundleResponse response;
  grpc::ClientContext context;
  SetRequester(context);
  const InterruptScope interrupt(session.console.interrupts, [&context] { context.TryCancel(); });
  const auto writer = session.server.care->ImportBundle(&context, &response);
  std::string piece(kPieceBytes, '\0');
  v1::ImportBundleRequest request;
  bool is_sent = true;
  while (is_sent &&
         (file.read(piece.data(), static_cast<std::streamsize>(piece.size())), file.gcount() > 0)) {
    request.set_piece(piece.data(), static_cast<std::size_t>(file.gcount()));
    is_sent = writer->Write(request);
  }
  writer->WritesDone();
  if (const grpc::Status status = writer->Finish(); !status.ok()) {
    return Fail(session, status);
  }
  if (session.is_json) {
    session.console.out << ToJson(response);
    return kExitOk;
  }
  session.console.out << absl::StrFormat(
      "%d gaits and %d versions of robots and surfaces are new; %d and %d were there\n",
      response.new_gait_count(),
      response.new_description_count(),
      response.known_gait_count(),
      response.known_description_count());
  return kExitOk;
}

}  // namespace

std::vector<Verb> BundleVerbs() {
  return {
      {{"bundle export",
        {"FILE"},
        "write gaits and what they were solved for to a file",
        "Without flags all gaits that are in service.",
        "gaitshelf bundle export weevil.bundle --robot weevil --good",
        {{"gaits", "GAIT,...", "only these, with commas between"},
         {"robot", "ROBOT", "only gaits of this robot"},
         {"surface", "SURFACE", "only gaits on this surface"},
         {"good", "", "only gaits with a good audit"}}},
       ExportBundle},
      {{"bundle import",
        {"FILE"},
        "take in a file that an export wrote, whole or not at all",
        "What is there already stays as it is; doing it twice does no harm.",
        "gaitshelf bundle import weevil.bundle",
        {}},
       ImportBundle},
  };
}

}  // namespace gaitshelf::client
