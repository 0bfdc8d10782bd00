// The verbs for stored gaits: gaits, show.
#include <ostream>
#include <string>

#include "clients/cli/exit_code.h"
#include "clients/cli/gait_text.h"
#include "clients/cli/json.h"
#include "clients/cli/session.h"
#include "clients/cli/table.h"
#include "clients/cli/trial_text.h"

namespace gaitshelf::client {
namespace {

int ListGaits(const Arguments& arguments, Session& session) {
  v1::ListGaitsRequest request;
  request.set_robot(arguments.Value("robot").value_or(""));
  request.set_surface(arguments.Value("surface").value_or(""));
  request.set_only_good(arguments.Has("good"));
  request.set_page_size(1000);
  v1::ListGaitsResponse all;
  do {
    v1::ListGaitsResponse page;
    grpc::ClientContext context;
    SetShortDeadline(context);
    const grpc::Status status = session.server.library->ListGaits(&context, request, &page);
    if (!status.ok()) {
      return Fail(session, status);
    }
    all.mutable_gaits()->MergeFrom(page.gaits());
    request.set_page_token(page.next_page_token());
  } while (!request.page_token().empty());
  if (session.is_json) {
    session.console.out << ToJson(all);
    return kExitOk;
  }
  session.console.out << (all.gaits().empty() ? "no gaits; order one with: gaitshelf order --help\n"
                                              : GaitTable(all));
  return kExitOk;
}

int ShowGait(const Arguments& arguments, Session& session) {
  v1::GetGaitRequest request;
  request.set_name(arguments.words()[0]);
  v1::Gait gait;
  grpc::ClientContext context;
  SetShortDeadline(context);
  const grpc::Status status = session.server.library->GetGait(&context, request, &gait);
  if (!status.ok()) {
    return Fail(session, status);
  }
  if (session.is_json) {
    session.console.out << ToJson(gait);
    return kExitOk;
  }
  v1::ListTrialsRequest trials_request;
  trials_request.set_gait(gait.name());
  v1::ListTrialsResponse trials;
  grpc::ClientContext trials_context;
  SetShortDeadline(trials_context);
  const grpc::Status listed =
      session.server.trials->ListTrials(&trials_context, trials_request, &trials);
  if (!listed.ok()) {
    return Fail(session, listed);
  }
  session.console.out << GaitText(gait);
  if (!trials.trials().empty()) {
    session.console.out << "\ntrials, newest first\n" << TrialTable(trials);
  }
  return kExitOk;
}

}  // namespace

std::vector<Verb> GaitVerbs() {
  return {
      {{"gaits",
        {},
        "list the gaits of the library, newest first",
        "",
        "gaitshelf gaits --robot weevil --good",
        {{"robot", "ROBOT", "only gaits of this robot"},
         {"surface", "SURFACE", "only gaits on this surface"},
         {"good", "", "only gaits with a good audit"}}},
       ListGaits},
      {{"show",
        {"GAIT"},
        "show a gait: plan, audit, replay, feet, trials",
        "With --json prints the whole gait with its trajectory.",
        "gaitshelf show g-0123456789abcdef0123456789abcdef\n"
        "gaitshelf show g-0123456789abcdef0123456789abcdef --json",
        {}},
       ShowGait},
  };
}

}  // namespace gaitshelf::client
