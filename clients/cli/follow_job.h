// Follows a job to its end and shows what came of it.
#ifndef GAITSHELF_CLIENTS_CLI_FOLLOW_JOB_H_
#define GAITSHELF_CLIENTS_CLI_FOLLOW_JOB_H_

#include <string>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/job_service.pb.h"

#include "clients/cli/session.h"

namespace gaitshelf::client {

// What following a job came to.
struct FollowedJob {
  int exit_code = 0;  // not 0: it was not followed to its end, and why was shown
  v1::WatchJobResponse last{};
};

// Shows progress until the job has ended. Goes on when the server is away for up to a minute: the
// job is in the library. Ctrl-C leaves the job alone and says how to come back.
FollowedJob FollowToEnd(const std::string& name, bool is_quiet, Session& session);

// Follows a job to its end, then shows its result. Returns the exit code of the command.
int FollowJob(const std::string& name, bool is_quiet, Session& session);

// Prints one gait of the library, as an order's answer.
void ShowAnswer(const v1::GaitSummary& gait, const Session& session);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_FOLLOW_JOB_H_
