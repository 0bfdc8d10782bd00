#include "service/api/model_service.h"

#include <string>
#include <utility>

#include <google/protobuf/repeated_ptr_field.h>

#include "absl/status/statusor.h"
#include "service/api/find_modes.h"
#include "service/api/status.h"
#include "solver/leg/compile_leg.h"
#include "solver/leg/robot_model.h"
#include "solver/robot/check.h"
#include "solver/robot/digest.h"
#include "solver/robot/plausible.h"
#include "solver/robot/text_reader.h"

namespace gaitshelf::service {
namespace {

// Mass and posture do not depend on the surface; the model wants one all the same.
v1::Surface AnyLevelSurface() {
  v1::Surface surface;
  surface.set_name("level");
  surface.set_friction_coefficient(0.5);
  return surface;
}

// Reads a description, or says what is wrong with its text.
template <typename Description>
Description ReadDescription(const std::string& text,
                            google::protobuf::RepeatedPtrField<v1::FieldViolation>* violations) {
  Description description;
  for (const solver::TextFault& fault : solver::ReadText(text, &description)) {
    v1::FieldViolation& violation = *violations->Add();
    violation.set_field(fault.fault.field);
    violation.set_value(fault.fault.value);
    violation.set_problem(fault.fault.problem);
    violation.set_mend(fault.fault.mend);
    violation.set_line(fault.line);
    violation.set_column(fault.column);
  }
  return description;
}

}  // namespace

grpc::Status ModelServiceHandler::ReadRobot(grpc::ServerContext* /*context*/,
                                            const v1::ReadRobotRequest* request,
                                            v1::ReadRobotResponse* response) {
  v1::Robot robot = ReadDescription<v1::Robot>(request->text(), response->mutable_violations());
  if (response->violations().empty()) {
    *response->mutable_robot() = std::move(robot);
  }
  return grpc::Status::OK;
}

grpc::Status ModelServiceHandler::ReadSurface(grpc::ServerContext* /*context*/,
                                              const v1::ReadSurfaceRequest* request,
                                              v1::ReadSurfaceResponse* response) {
  v1::Surface surface =
      ReadDescription<v1::Surface>(request->text(), response->mutable_violations());
  if (response->violations().empty()) {
    *response->mutable_surface() = std::move(surface);
  }
  return grpc::Status::OK;
}

grpc::Status ModelServiceHandler::CheckRobot(grpc::ServerContext* /*context*/,
                                             const v1::CheckRobotRequest* request,
                                             v1::CheckRobotResponse* response) {
  if (!request->has_robot()) {
    return ToGrpc(MissingField("robot", "give the description to check"));
  }
  const v1::Robot& robot = request->robot();
  const solver::Violations faults = solver::CheckRobot(robot);
  if (!faults.empty()) {
    response->mutable_violations()->Assign(faults.begin(), faults.end());
    return grpc::Status::OK;
  }
  const absl::StatusOr<v1::LegTables> tables = solver::CompileLegs(robot);
  if (!tables.ok()) {
    return ToGrpc(tables.status());
  }
  const absl::StatusOr<solver::RobotModel> model =
      solver::RobotModel::Create(robot, AnyLevelSurface(), solver::Scale(), &*tables);
  if (!model.ok()) {
    return ToGrpc(model.status());
  }
  const solver::Violations warnings = solver::RobotWarnings(robot);
  response->mutable_warnings()->Assign(warnings.begin(), warnings.end());
  response->set_digest(solver::RobotDigest(robot));
  response->set_coordinate_count(static_cast<int>(model->mechanism_coordinate_count()));
  response->set_loop_equation_count(static_cast<int>(model->loop_equation_count()));
  for (const v1::LegTable& table : tables->tables()) {
    *response->add_compiled_legs() = table.report();
  }
  response->set_total_mass_kg(model->total_mass());
  response->set_standing_height_m(model->base_count() > 0 ? model->ReferencePosture()[2]
                                                          : robot.body().clamp_height_m());
  return grpc::Status::OK;
}

grpc::Status ModelServiceHandler::CheckSurface(grpc::ServerContext* /*context*/,
                                               const v1::CheckSurfaceRequest* request,
                                               v1::CheckSurfaceResponse* response) {
  if (!request->has_surface()) {
    return ToGrpc(MissingField("surface", "give the description to check"));
  }
  const solver::Violations faults = solver::CheckSurface(request->surface());
  if (!faults.empty()) {
    response->mutable_violations()->Assign(faults.begin(), faults.end());
    return grpc::Status::OK;
  }
  const solver::Violations warnings = solver::SurfaceWarnings(request->surface());
  response->mutable_warnings()->Assign(warnings.begin(), warnings.end());
  response->set_digest(solver::SurfaceDigest(request->surface()));
  return grpc::Status::OK;
}

grpc::Status ModelServiceHandler::FindModes(grpc::ServerContext* /*context*/,
                                            const v1::FindModesRequest* request,
                                            v1::FindModesResponse* response) {
  solver::Violations faults = CheckFindModes(*request);
  if (request->has_robot()) {
    const solver::Violations more = solver::CheckRobot(request->robot());
    faults.insert(faults.end(), more.begin(), more.end());
  }
  if (!faults.empty()) {
    return ToGrpc(InvalidRequest(faults));
  }
  v1::Robot robot = request->robot();
  if (!request->has_robot()) {
    absl::StatusOr<v1::StoredRobot> stored = house_->library->GetRobot(request->name(), "");
    if (!stored.ok()) {
      return ToGrpc(stored.status());
    }
    robot = std::move(*stored->mutable_robot());
  }
  absl::StatusOr<v1::FindModesResponse> answer = FindModesOf(robot, *request);
  if (!answer.ok()) {
    return ToGrpc(answer.status());
  }
  *response = *std::move(answer);
  return grpc::Status::OK;
}

}  // namespace gaitshelf::service
