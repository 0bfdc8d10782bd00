// Serves LibraryService: decode, check, call the library, encode.
#ifndef GAITSHELF_SERVICE_API_LIBRARY_SERVICE_H_
#define GAITSHELF_SERVICE_API_LIBRARY_SERVICE_H_

#include <memory>

#include "gaitshelf/v1/library_service.grpc.pb.h"

#include "service/api/house.h"

namespace gaitshelf::service {

// Reports itself to the meter.
inline constexpr char kGetGaitMethod[] = "/gaitshelf.v1.LibraryService/GetGait";

// GetGait is served raw: a stored gait is sent as it lies in the library, without being parsed.
class LibraryServiceHandler final
    : public v1::LibraryService::WithRawCallbackMethod_GetGait<v1::LibraryService::Service> {
 public:
  LibraryServiceHandler(House* house, Admission::Limits gaits)
      : house_(house),
        gaits_(std::make_shared<Admission>(gaits,
                                           "gaits being sent",
                                           "TOO_MANY_GAITS",
                                           house->places)) {}

  grpc::Status PutRobot(grpc::ServerContext* context,
                        const v1::PutRobotRequest* request,
                        v1::PutRobotResponse* response) override;
  grpc::Status GetRobot(grpc::ServerContext* context,
                        const v1::GetRobotRequest* request,
                        v1::StoredRobot* response) override;
  grpc::Status ListRobots(grpc::ServerContext* context,
                          const v1::ListRobotsRequest* request,
                          v1::ListRobotsResponse* response) override;
  grpc::Status PutSurface(grpc::ServerContext* context,
                          const v1::PutSurfaceRequest* request,
                          v1::PutSurfaceResponse* response) override;
  grpc::Status GetSurface(grpc::ServerContext* context,
                          const v1::GetSurfaceRequest* request,
                          v1::StoredSurface* response) override;
  grpc::Status ListSurfaces(grpc::ServerContext* context,
                            const v1::ListSurfacesRequest* request,
                            v1::ListSurfacesResponse* response) override;
  grpc::Status FindGait(grpc::ServerContext* context,
                        const v1::FindGaitRequest* request,
                        v1::GaitSummary* response) override;
  grpc::ServerUnaryReactor* GetGait(grpc::CallbackServerContext* context,
                                    const grpc::ByteBuffer* request,
                                    grpc::ByteBuffer* response) override;
  grpc::Status ListGaits(grpc::ServerContext* context,
                         const v1::ListGaitsRequest* request,
                         v1::ListGaitsResponse* response) override;

 private:
  House* house_;
  // Each holds a gait until gRPC has sent it.
  const std::shared_ptr<Admission> gaits_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_LIBRARY_SERVICE_H_
