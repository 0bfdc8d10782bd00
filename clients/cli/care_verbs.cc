// The verbs that look after the library: changes, retire, reinstate, retired, tidy, backup.
#include <algorithm>
#include <ostream>
#include <string>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "absl/strings/string_view.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/json.h"
#include "clients/cli/session.h"
#include "clients/cli/table.h"

namespace gaitshelf::client {
namespace {

// Reads a whole number; without the flag it is `otherwise`.
absl::StatusOr<int> ReadWhole(const Arguments& arguments, const std::string& flag, int otherwise) {
  const auto text = arguments.Value(flag);
  int value = otherwise;
  if (text.has_value() && (!absl::SimpleAtoi(*text, &value) || value < 0)) {
    return absl::InvalidArgumentError(absl::StrCat("--",
                                                   flag,
                                                   ": '",
                                                   *text,
                                                   "' is no whole number from 0 up; write --",
                                                   flag,
                                                   " ",
                                                   otherwise));
  }
  return value;
}

int ListChanges(const Arguments& arguments, Session& session) {
  constexpr int kDefaultCount = 20;
  constexpr int kPage = 1000;
  const auto wanted = ReadWhole(arguments, "last", kDefaultCount);
  if (!wanted.ok()) {
    return Fail(session, wanted.status());
  }
  v1::ListChangesResponse all;
  v1::ListChangesRequest request;
  do {
    request.set_page_size(std::clamp(*wanted - all.changes_size(), 1, kPage));
    v1::ListChangesResponse page;
    grpc::ClientContext context;
    SetShortDeadline(context);
    const grpc::Status status = session.server.care->ListChanges(&context, request, &page);
    if (!status.ok()) {
      return Fail(session, status);
    }
    all.mutable_changes()->MergeFrom(page.changes());
    request.set_page_token(page.next_page_token());
  } while (!request.page_token().empty() && all.changes_size() < *wanted);
  if (session.is_json) {
    session.console.out << ToJson(all);
    return kExitOk;
  }
  if (all.changes().empty()) {
    session.console.out << "nothing was changed yet\n";
  }
  for (const v1::Change& change : all.changes()) {
    session.console.out << absl::StrFormat(
        "%6d  %s  %-8s%s%s\n        %s %s\n",
        change.number(),
        ShortTime(change.time()),
        change.requester().empty() ? "-" : change.requester(),
        change.detail().empty() ? "" : "  ",
        change.detail(),
        EnumText(v1::ChangeKind_Name(change.kind()), "CHANGE_KIND_"),
        change.subject());
  }
  return kExitOk;
}

int Retire(const Arguments& arguments, Session& session) {
  v1::RetireGaitRequest request;
  request.set_name(arguments.words()[0]);
  request.set_reason(arguments.Value("reason").value_or(""));
  v1::RetireGaitResponse response;
  grpc::ClientContext context;
  SetShortDeadline(context);
  SetRequester(context);
  const grpc::Status status = session.server.care->RetireGait(&context, request, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  session.console.out << (session.is_json ? ToJson(response)
                                          : absl::StrCat(request.name(),
                                                         " is out of service\n"
                                                         "bring it back with: gaitshelf "
                                                         "reinstate GAIT\n"));
  return kExitOk;
}

int Reinstate(const Arguments& arguments, Session& session) {
  v1::ReinstateGaitRequest request;
  request.set_name(arguments.words()[0]);
  v1::ReinstateGaitResponse response;
  grpc::ClientContext context;
  SetShortDeadline(context);
  SetRequester(context);
  const grpc::Status status = session.server.care->ReinstateGait(&context, request, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  session.console.out << (session.is_json ? ToJson(response)
                                          : absl::StrCat(request.name(), " is in service\n"));
  return kExitOk;
}

int ListRetired(const Arguments& /*arguments*/, Session& session) {
  v1::ListRetiredGaitsResponse response;
  grpc::ClientContext context;
  SetShortDeadline(context);
  const grpc::Status status = session.server.care->ListRetiredGaits(&context, {}, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  if (session.is_json) {
    session.console.out << ToJson(response);
    return kExitOk;
  }
  if (response.gaits().empty()) {
    session.console.out << "every gait is in service\n";
  }
  for (const v1::RetiredGait& gait : response.gaits()) {
    session.console.out << absl::StrFormat("%s  %s  %s\n    %s\n",
                                           gait.name(),
                                           ShortTime(gait.retire_time()),
                                           gait.requester().empty() ? "-" : gait.requester(),
                                           gait.reason());
  }
  return kExitOk;
}

int Tidy(const Arguments& arguments, Session& session) {
  constexpr int kDefaultDays = 30;
  const auto days = ReadWhole(arguments, "days", kDefaultDays);
  if (!days.ok()) {
    return Fail(session, days.status());
  }
  v1::CollectGarbageRequest request;
  request.set_retired_days(*days);
  request.set_is_dry_run(!arguments.Has("remove"));
  v1::CollectGarbageResponse response;
  grpc::ClientContext context;
  SetLongDeadline(context);
  SetRequester(context);
  const grpc::Status status = session.server.care->CollectGarbage(&context, request, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  if (session.is_json) {
    session.console.out << ToJson(response);
    return kExitOk;
  }
  const absl::string_view word = request.is_dry_run() ? "would be removed" : "was removed";
  if (response.gaits().empty() && response.descriptions().empty()) {
    session.console.out << "nothing " << word << "\n";
    return kExitOk;
  }
  session.console.out << word << ":\n";
  for (const auto& list : {response.gaits(), response.descriptions()}) {
    for (const std::string& name : list) {
      session.console.out << "  " << name << "\n";
    }
  }
  if (request.is_dry_run()) {
    session.console.out << "give --remove to do it\n";
  }
  return kExitOk;
}

int BackUp(const Arguments& /*arguments*/, Session& session) {
  v1::BackUpResponse response;
  grpc::ClientContext context;
  SetLongDeadline(context);
  SetRequester(context);
  const grpc::Status status = session.server.care->BackUp(&context, {}, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  session.console.out << (session.is_json
                              ? ToJson(response)
                              : absl::StrFormat("%s\n  %d gaits read and checked, %.1f MB\n",
                                                response.path(),
                                                response.gait_count(),
                                                static_cast<double>(response.size_bytes()) * 1e-6));
  return kExitOk;
}

}  // namespace

std::vector<Verb> CareVerbs() {
  const std::string gait = "g-0123456789abcdef0123456789abcdef";
  return {
      {{"changes",
        {},
        "list who changed what in the library, newest first",
        "",
        "gaitshelf changes --last 50",
        {{"last", "NUMBER", "how many; 20 without it"}}},
       ListChanges},
      {{"retire",
        {"GAIT"},
        "take a gait out of service",
        "It is not found for orders, listed or played any more; show still shows it.",
        absl::StrCat("gaitshelf retire ", gait, " --reason 'made with a bent leg'"),
        {{"reason", "TEXT", "why, for those who look for it later", true}}},
       Retire},
      {{"reinstate",
        {"GAIT"},
        "put a retired gait into service again",
        "",
        absl::StrCat("gaitshelf reinstate ", gait),
        {}},
       Reinstate},
      {{"retired", {}, "list the gaits that are out of service", "", "gaitshelf retired", {}},
       ListRetired},
      {{"tidy",
        {},
        "remove what was retired long ago or is not needed",
        "Without --remove only says what would go. Gaits that trials were made with stay.",
        "gaitshelf tidy --days 90",
        {{"days", "NUMBER", "gaits retired at least so long ago; 30 without it"},
         {"remove", "", "do it"}}},
       Tidy},
      {{"backup",
        {},
        "copy the library into the server's folder for backups",
        "The copy is read back and checked. The server serves meanwhile.",
        "gaitshelf backup",
        {}},
       BackUp},
  };
}

}  // namespace gaitshelf::client
