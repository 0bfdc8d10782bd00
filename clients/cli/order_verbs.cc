// The verbs for jobs: order, watch, jobs, cancel.
#include <cstdlib>
#include <ostream>
#include <string>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"
#include "clients/cli/exit_code.h"
#include "clients/cli/follow_job.h"
#include "clients/cli/json.h"
#include "clients/cli/order_flags.h"
#include "clients/cli/session.h"
#include "clients/cli/table.h"

namespace gaitshelf::client {
namespace {

int Order(const Arguments& arguments, Session& session) {
  auto order = ReadOrder(arguments);
  if (!order.ok()) {
    return Fail(session, order.status());
  }
  v1::OrderGaitRequest request;
  *request.mutable_order() = *std::move(order);
  request.set_requester(LoginName());
  request.set_solve_anew(arguments.Has("anew"));
  v1::OrderGaitResponse response;
  grpc::ClientContext context;
  SetShortDeadline(context);
  const grpc::Status status = session.server.jobs->OrderGait(&context, request, &response);
  if (!status.ok()) {
    return Fail(session, status);
  }
  if (response.has_gait() || arguments.Has("detach")) {
    if (session.is_json) {
      session.console.out << ToJson(response);
    } else if (response.has_gait()) {
      session.console.out << "in the library: ";
      ShowAnswer(response.gait(), session);
    } else {
      session.console.out << response.job().name()
                          << (response.joined() ? " was ordered before" : " is queued")
                          << "; follow it: gaitshelf watch " << response.job().name() << "\n";
    }
    return kExitOk;
  }
  if (!arguments.Has("quiet")) {
    session.console.err << "not in the library yet; "
                        << (response.joined() ? "joined job " : "ordered job ")
                        << response.job().name() << std::endl;
  }
  return FollowJob(response.job().name(), arguments.Has("quiet"), session);
}

int Watch(const Arguments& arguments, Session& session) {
  return FollowJob(arguments.words()[0], arguments.Has("quiet"), session);
}

std::string DoneText(const v1::Job& job) {
  if (job.state() != v1::JOB_STATE_RUNNING) {
    return "";
  }
  return absl::StrFormat("%.0f %%", job.progress().done_ratio() * 100.0);
}

int ListJobs(const Arguments& arguments, Session& session) {
  v1::ListJobsRequest request;
  request.set_only_open(arguments.Has("open"));
  request.set_page_size(1000);
  v1::ListJobsResponse all;
  do {
    v1::ListJobsResponse page;
    grpc::ClientContext context;
    SetShortDeadline(context);
    const grpc::Status status = session.server.jobs->ListJobs(&context, request, &page);
    if (!status.ok()) {
      return Fail(session, status);
    }
    all.mutable_jobs()->MergeFrom(page.jobs());
    request.set_page_token(page.next_page_token());
  } while (!request.page_token().empty());
  if (session.is_json) {
    session.console.out << ToJson(all);
    return kExitOk;
  }
  Table table({"job", "state", ">done", "robot", "surface", ">frequency", "task"});
  for (const v1::Job& job : all.jobs()) {
    const v1::GaitOrder& order = job.order();
    table.AddRow({job.name(),
                  StateText(job.state()),
                  DoneText(job),
                  order.robot(),
                  order.also_on().empty() ? order.surface()
                                          : SurfacesCell(order.surface(), order.also_on_size()),
                  !order.task().has_advance() ? "" : Hertz(order.stride_frequency_hz()),
                  TaskText(order.task())});
  }
  session.console.out << (table.empty() ? "no jobs\n" : table.ToText());
  return kExitOk;
}

int Cancel(const Arguments& arguments, Session& session) {
  v1::CancelJobRequest request;
  request.set_name(arguments.words()[0]);
  v1::Job job;
  grpc::ClientContext context;
  SetShortDeadline(context);
  SetRequester(context);
  const grpc::Status status = session.server.jobs->CancelJob(&context, request, &job);
  if (!status.ok()) {
    return Fail(session, status);
  }
  if (session.is_json) {
    session.console.out << ToJson(job);
  } else {
    // The worker of a running job is told to stop; the job has ended once the worker has.
    session.console.out << job.name() << " "
                        << (job.state() == v1::JOB_STATE_RUNNING ? "is told to stop"
                                                                 : StateText(job.state()))
                        << "\n";
  }
  return kExitOk;
}

}  // namespace

std::vector<Verb> OrderVerbs() {
  return {
      {{"order",
        {},
        "get a gait: from the library, or by a new solve",
        "Answers at once when the library has a good gait for the order. Otherwise follows the\n"
        "solve. The bar is empty at a violation of 1 and full at 1e-6, on a log scale.\n"
        "Ctrl-C stops following; the job goes on. A task that cannot be met ends with what binds\n"
        "and with the nearest one that can.",
        "gaitshelf order --robot weevil --surface duct-steel "
        "--frequency 12Hz --advance 9mm\n"
        "gaitshelf order --robot weevil --surface duct-steel --also-on liner-felt,grit-tape "
        "--frequency 12Hz --advance 8mm --detach\n"
        "gaitshelf order --robot weevil --surface duct-steel --hop 4mm --detach\n"
        "gaitshelf order --robot weevil --surface duct-steel --stand 0mm\n"
        "gaitshelf order --robot weevil --surface duct-steel --from "
        "g-0123456789abcdef0123456789abcdef@0 --to g-0123456789abcdef0123456789abcdef@0.5 "
        "--within 2 --detach",
        OrderFlags()},
       Order,
       [](const Arguments& arguments) { return ReadOrder(arguments).status(); }},
      {{"watch",
        {"JOB"},
        "follow a job to its end",
        "",
        "gaitshelf watch j-3",
        {{"quiet", "", "show no progress"}}},
       Watch},
      {{"jobs",
        {},
        "list jobs, newest first",
        "",
        "gaitshelf jobs --open",
        {{"open", "", "only jobs that have not ended"}}},
       ListJobs},
      {{"cancel", {"JOB"}, "stop a job", "", "gaitshelf cancel j-3", {}}, Cancel},
  };
}

}  // namespace gaitshelf::client
