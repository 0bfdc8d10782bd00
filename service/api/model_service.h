// Serves ModelService: looks at robots and surfaces, stores nothing.
#ifndef GAITSHELF_SERVICE_API_MODEL_SERVICE_H_
#define GAITSHELF_SERVICE_API_MODEL_SERVICE_H_

#include "gaitshelf/v1/model_service.grpc.pb.h"

#include "service/api/house.h"

namespace gaitshelf::service {

class ModelServiceHandler final : public v1::ModelService::Service {
 public:
  explicit ModelServiceHandler(House* house) : house_(house) {}

  grpc::Status ReadRobot(grpc::ServerContext* context,
                         const v1::ReadRobotRequest* request,
                         v1::ReadRobotResponse* response) override;
  grpc::Status ReadSurface(grpc::ServerContext* context,
                           const v1::ReadSurfaceRequest* request,
                           v1::ReadSurfaceResponse* response) override;
  grpc::Status CheckRobot(grpc::ServerContext* context,
                          const v1::CheckRobotRequest* request,
                          v1::CheckRobotResponse* response) override;
  grpc::Status CheckSurface(grpc::ServerContext* context,
                            const v1::CheckSurfaceRequest* request,
                            v1::CheckSurfaceResponse* response) override;
  grpc::Status FindModes(grpc::ServerContext* context,
                         const v1::FindModesRequest* request,
                         v1::FindModesResponse* response) override;

 private:
  House* house_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_MODEL_SERVICE_H_
