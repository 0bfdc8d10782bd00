// A ModelService with scripted answers.
#ifndef GAITSHELF_TESTS_CLIENTS_CLI_SCRIPTED_MODEL_H_
#define GAITSHELF_TESTS_CLIENTS_CLI_SCRIPTED_MODEL_H_

#include <string>

#include <google/protobuf/message.h>
#include <google/protobuf/text_format.h>
#include <grpcpp/server_context.h>

#include "gaitshelf/v1/model_service.grpc.pb.h"

#include "tests/clients/cli/shared.h"

namespace gaitshelf::client {

class ScriptedModel : public v1::ModelService::Service {
 public:
  grpc::Status ReadRobot(grpc::ServerContext*,
                         const v1::ReadRobotRequest* request,
                         v1::ReadRobotResponse* response) override {
    // A real server tells all faults of a text, in its own words.
    if (request->text() == "two faults") {
      for (const int line : {2, 4}) {
        v1::FieldViolation& violation = *response->add_violations();
        violation.set_field("body.mass_g");
        violation.set_value("unknown");
        violation.set_problem("is not a field of Body");
        violation.set_mend("write mass_kg");
        violation.set_line(line);
        violation.set_column(8);
      }
      return grpc::Status::OK;
    }
    return Parse(request->text(), response->mutable_robot());
  }

  grpc::Status ReadSurface(grpc::ServerContext*,
                           const v1::ReadSurfaceRequest* request,
                           v1::ReadSurfaceResponse* response) override {
    if (request->text() == "colour: 1") {
      response->add_violations()->set_field("colour");
      response->mutable_violations(0)->set_value("unknown");
      return grpc::Status::OK;
    }
    return Parse(request->text(), response->mutable_surface());
  }

  grpc::Status CheckSurface(grpc::ServerContext*,
                            const v1::CheckSurfaceRequest* request,
                            v1::CheckSurfaceResponse* response) override {
    if (request->surface().friction_coefficient() == 2) {
      v1::FieldViolation& warning = *response->add_warnings();
      warning.set_field("friction_coefficient");
      warning.set_value("2");
      warning.set_problem("is out of the ordinary");
      warning.set_mend("check the unit");
    }
    if (request->surface().friction_coefficient() > 3) {
      for (const char* field : {"friction_coefficient", "name"}) {
        v1::FieldViolation& violation = *response->add_violations();
        violation.set_field(field);
        violation.set_value("4");
        violation.set_problem("0 to 3 is allowed");
        violation.set_mend("measure it");
      }
    }
    return grpc::Status::OK;
  }

  grpc::Status FindModes(grpc::ServerContext*,
                         const v1::FindModesRequest* request,
                         v1::FindModesResponse* response) override {
    last_request.Set(*request);
    response->set_foot_condition(v1::FOOT_CONDITION_STICKING);
    v1::Mode& mode = *response->add_modes();
    mode.set_name("sway-roll");
    mode.set_frequency_hz(14.8);
    mode.set_damping_ratio(0.00125);
    mode.add_body_share_ratio(0.6);
    mode.add_body_share_ratio(0.35);
    mode.set_lift_share_ratio(0.05);
    mode.set_swing_share_ratio(-1e-4);
    response->set_duty_ratio(0.5);
    response->set_advance_reach_m(0.018);
    response->set_lift_margin_ratio(0.46);
    response->add_warnings("12 Hz sits on sway-roll");
    return grpc::Status::OK;
  }

  Shared<v1::FindModesRequest> last_request;

 private:
  static grpc::Status Parse(const std::string& text, google::protobuf::Message* message) {
    return google::protobuf::TextFormat::ParseFromString(text, message)
               ? grpc::Status::OK
               : grpc::Status(grpc::StatusCode::INTERNAL, "a script has no faults for this text");
  }
};

}  // namespace gaitshelf::client

#endif  // GAITSHELF_TESTS_CLIENTS_CLI_SCRIPTED_MODEL_H_
