#include "service/api/receive_trial.h"

#include <utility>

#include "absl/strings/str_cat.h"
#include "service/api/status.h"
#include "service/library/stored_gait.h"
#include "service/library/trial_name.h"
#include "solver/base/status_macros.h"
#include "solver/robot/violation.h"

namespace gaitshelf::service {
namespace {

absl::Status Refuse(const solver::Fault& fault) {
  solver::Violations violations;
  solver::AddFault(fault, &violations);
  return InvalidRequest(violations);
}

// What a trial of a gait states besides must be the gait's own.
absl::Status CheckAgrees(const std::string& field,
                         const std::string& stated,
                         const std::string& of_gait) {
  if (stated.empty() || stated == of_gait) {
    return absl::OkStatus();
  }
  return Refuse({field,
                 solver::QuotedText(stated),
                 absl::StrCat("must be the gait's, which is ", solver::QuotedText(of_gait)),
                 "leave it out"});
}

}  // namespace

absl::StatusOr<solver::TrialParts> TrialReceiver::ResolveGait() {
  if (trial_.gait().empty()) {
    return solver::TrialParts();  // the check of the description tells
  }
  GAITSHELF_ASSIGN_OR_RETURN(const v1::Gait gait, LoadGait(library_, trial_.gait()));
  GAITSHELF_RETURN_IF_ERROR(CheckAgrees("robot", trial_.robot(), gait.robot()));
  trial_.set_robot(gait.robot());
  if (trial_.robot_digest().empty()) {
    trial_.set_robot_digest(gait.robot_digest());
  }
  if (trial_.surface().empty() && trial_.surface_digest().empty()) {
    trial_.set_surface_digest(gait.surface_digest());
  }
  if (trial_.surface().empty()) {
    trial_.set_surface(gait.surface());
  }
  if (trial_.stride_frequency_hz() == 0.0) {
    trial_.set_stride_frequency_hz(gait.stride_frequency_hz());
  }
  return ResolveBench();
}

absl::StatusOr<solver::TrialParts> TrialReceiver::ResolveBench() {
  solver::TrialParts parts;
  if (!trial_.robot().empty()) {
    GAITSHELF_ASSIGN_OR_RETURN(const v1::StoredRobot stored,
                               library_->GetRobot(trial_.robot(), trial_.robot_digest()));
    trial_.set_robot_digest(stored.digest());
    parts = solver::PartsOf(stored.robot());
  }
  if (!trial_.surface().empty()) {
    GAITSHELF_ASSIGN_OR_RETURN(const v1::StoredSurface stored,
                               library_->GetSurface(trial_.surface(), trial_.surface_digest()));
    trial_.set_surface_digest(stored.digest());
  }
  return parts;
}

absl::StatusOr<solver::TrialParts> TrialReceiver::Resolve() {
  // A gait that was named tells the robot, whatever the kind; the check tells whether both fit.
  const bool is_of_gait = trial_.kind() == v1::TRIAL_KIND_GAIT || !trial_.gait().empty();
  return is_of_gait ? ResolveGait() : ResolveBench();
}

absl::Status TrialReceiver::TakeDescription(const v1::Trial& described) {
  trial_ = described;
  trial_.clear_name();
  trial_.clear_create_time();
  trial_.set_requester(requester_);
  GAITSHELF_ASSIGN_OR_RETURN(const solver::TrialParts parts, Resolve());
  const solver::Violations faults = solver::ResolveTrial(parts, &trial_);
  if (!faults.empty()) {
    return InvalidRequest(faults);
  }
  check_.emplace(&trial_);
  return absl::OkStatus();
}

absl::Status TrialReceiver::Take(const v1::UploadTrialRequest& request) {
  if (!check_.has_value()) {
    if (!request.has_trial()) {
      return MissingField("trial", "send the description first, then the samples");
    }
    return TakeDescription(request.trial());
  }
  if (!request.has_block()) {
    return MissingField("block", "send nothing but samples after the description");
  }
  check_->Add(request.block());
  if (check_->value_count() > value_limit_) {
    return absl::ResourceExhaustedError(
        absl::StrCat("the trial has more than ",
                     value_limit_,
                     " values; cut it into shorter ones or leave columns out"));
  }
  if (check_->ok()) {
    blocks_.push_back(request.block().SerializeAsString());
  } else {
    blocks_.clear();  // it will be refused, and only its faults are wanted
  }
  return absl::OkStatus();
}

absl::StatusOr<InsertedTrial> TrialReceiver::Store() {
  if (!check_.has_value()) {
    return MissingField("trial", "send the description first, then the samples");
  }
  check_->Finish();
  if (!check_->ok()) {
    return InvalidRequest(check_->violations());
  }
  for (int i = 0; i < trial_.groups_size(); ++i) {
    trial_.mutable_groups(i)->set_row_count(check_->row_count(i));
  }
  GAITSHELF_ASSIGN_OR_RETURN(const std::string name, TrialName(trial_, blocks_));
  trial_.set_name(name);
  return library_->InsertTrial(trial_, blocks_);
}

}  // namespace gaitshelf::service
