// Serves CalibrationService: fits trials, keeps what came of it, and makes it current when told.
#ifndef GAITSHELF_SERVICE_API_CALIBRATION_SERVICE_H_
#define GAITSHELF_SERVICE_API_CALIBRATION_SERVICE_H_

#include "gaitshelf/v1/calibration_service.grpc.pb.h"

#include "service/api/admission.h"
#include "service/api/house.h"

namespace gaitshelf::service {

class CalibrationServiceHandler final : public v1::CalibrationService::Service {
 public:
  explicit CalibrationServiceHandler(House* house)
      : house_(house),
        calibrations_({.total = 2, .each = 1},
                      "calibrations",
                      "TOO_MANY_CALIBRATIONS",
                      house->places),
        replays_({.total = 2, .each = 1}, "replays", "TOO_MANY_REPLAYS", house->places) {}

  grpc::Status Calibrate(grpc::ServerContext* context,
                         const v1::CalibrateRequest* request,
                         grpc::ServerWriter<v1::CalibrateResponse>* writer) override;
  grpc::Status GetCalibration(grpc::ServerContext* context,
                              const v1::GetCalibrationRequest* request,
                              v1::Calibration* response) override;
  grpc::Status ListCalibrations(grpc::ServerContext* context,
                                const v1::ListCalibrationsRequest* request,
                                v1::ListCalibrationsResponse* response) override;
  grpc::Status AcceptCalibration(grpc::ServerContext* context,
                                 const v1::AcceptCalibrationRequest* request,
                                 v1::AcceptCalibrationResponse* response) override;
  grpc::Status ReplayGait(grpc::ServerContext* context,
                          const v1::ReplayGaitRequest* request,
                          v1::ReplayGaitResponse* response) override;

 private:
  House* house_;
  // Each keeps a core busy for seconds; a calibration may hold the samples of the largest trial,
  // 320 MB.
  Admission calibrations_;
  Admission replays_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_CALIBRATION_SERVICE_H_
