// What every verb works with, and how it ends in failure.
#ifndef GAITSHELF_CLIENTS_CLI_SESSION_H_
#define GAITSHELF_CLIENTS_CLI_SESSION_H_

#include <string>
#include <vector>

#include <grpcpp/support/status.h>

#include "absl/status/status.h"
#include "clients/cli/arguments.h"
#include "clients/cli/connection.h"
#include "clients/cli/console.h"

namespace gaitshelf::client {

struct Session {
  Console& console;
  Connection server;
  bool is_json = false;
};

struct Failure;  // server_error.h

// Prints the failure to console.err and returns its exit code.
int Fail(const Session& session, const Failure& failure);
int Fail(const Session& session, const grpc::Status& status);
int Fail(const Session& session, const absl::Status& status);

// A verb's description and what it does. The function returns the exit code.
struct Verb {
  VerbSpec spec;
  int (*run)(const Arguments& arguments, Session& session) = nullptr;
  // Faults in what the flags say, which are told together with those of the command line; null for
  // none. Words may be missing.
  absl::Status (*check)(const Arguments& arguments) = nullptr;
};

// The verbs of each file, in the order of the help.
std::vector<Verb> DescriptionVerbs();
std::vector<Verb> ModesVerbs();
std::vector<Verb> OrderVerbs();
std::vector<Verb> GaitVerbs();
std::vector<Verb> StreamVerbs();
std::vector<Verb> CareVerbs();
std::vector<Verb> BundleVerbs();
std::vector<Verb> TrialVerbs();
std::vector<Verb> TrialPoseVerbs();
std::vector<Verb> CalibrationVerbs();
std::vector<Verb> ReplanVerbs();
std::vector<Verb> ExportVerbs();
std::vector<Verb> PythonVerbs();

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_SESSION_H_
