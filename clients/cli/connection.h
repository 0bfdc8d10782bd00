// The way to one server: its address and the stubs of its services.
#ifndef GAITSHELF_CLIENTS_CLI_CONNECTION_H_
#define GAITSHELF_CLIENTS_CLI_CONNECTION_H_

#include <memory>
#include <optional>
#include <string>

#include <grpcpp/client_context.h>

#include "gaitshelf/v1/calibration_service.grpc.pb.h"
#include "gaitshelf/v1/care_service.grpc.pb.h"
#include "gaitshelf/v1/job_service.grpc.pb.h"
#include "gaitshelf/v1/library_service.grpc.pb.h"
#include "gaitshelf/v1/model_service.grpc.pb.h"
#include "gaitshelf/v1/playback_service.grpc.pb.h"
#include "gaitshelf/v1/trial_service.grpc.pb.h"

namespace gaitshelf::client {

// Returns the flag's value if given, else GAITSHELF_SERVER if set, else the socket that gaitshelfd
// makes by default: gaitshelf.sock in XDG_RUNTIME_DIR, or in /tmp when that is not set.
std::string ServerAddress(const std::optional<std::string>& flag);

struct Connection {
  std::string address;
  std::unique_ptr<v1::LibraryService::Stub> library;
  std::unique_ptr<v1::JobService::Stub> jobs;
  std::unique_ptr<v1::PlaybackService::Stub> playback;
  std::unique_ptr<v1::ModelService::Stub> model;
  std::unique_ptr<v1::CareService::Stub> care;
  std::unique_ptr<v1::TrialService::Stub> trials;
  std::unique_ptr<v1::CalibrationService::Stub> calibrations;
};

// Gives a call that should answer at once 30 s to do so.
void SetShortDeadline(grpc::ClientContext& context);

// Gives a call 30 min that reads a whole library or a trial of 320 MB.
void SetLongDeadline(grpc::ClientContext& context);

// Login name of the user, at most 63 characters.
std::string LoginName();

// Says in the call who asks, for the log of changes.
void SetRequester(grpc::ClientContext& context);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_CONNECTION_H_
