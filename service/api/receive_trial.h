// Takes a trial in, message by message, and checks it on the way.
#ifndef GAITSHELF_SERVICE_API_RECEIVE_TRIAL_H_
#define GAITSHELF_SERVICE_API_RECEIVE_TRIAL_H_

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "gaitshelf/v1/trial_service.pb.h"

#include "absl/status/statusor.h"
#include "service/library/library.h"
#include "solver/measure/check_trial.h"

namespace gaitshelf::service {

// Holds the samples until all are there: at most value_limit of 8 bytes.
class TrialReceiver {
 public:
  TrialReceiver(Library* library, std::string requester, std::int64_t value_limit)
      : library_(library), requester_(std::move(requester)), value_limit_(value_limit) {}
  TrialReceiver(const TrialReceiver&) = delete;
  TrialReceiver& operator=(const TrialReceiver&) = delete;

  // Takes the next message. Faults of samples are gathered until Store; others end the upload.
  //
  // Errors:
  //   kInvalidArgument     the first message is no description, a later one is no block, or the
  //                        description breaks a rule
  //   kNotFound            no such gait, robot or surface
  //   kResourceExhausted   more values than a trial may have
  absl::Status Take(const v1::UploadTrialRequest& request);

  // Stores what was taken.
  //
  // Errors:
  //   kInvalidArgument   nothing was taken, or samples break a rule; every fault names row and
  //                      column
  absl::StatusOr<InsertedTrial> Store();

 private:
  absl::Status TakeDescription(const v1::Trial& described);
  // Fill what the library knows of gait, robot and surface, and return the parts of the robot.
  absl::StatusOr<solver::TrialParts> Resolve();
  absl::StatusOr<solver::TrialParts> ResolveGait();
  absl::StatusOr<solver::TrialParts> ResolveBench();

  Library* library_;
  std::string requester_;
  std::int64_t value_limit_;
  v1::Trial trial_;
  std::optional<solver::SampleCheck> check_;  // present after the description
  std::vector<std::string> blocks_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_RECEIVE_TRIAL_H_
