// Serves CareService: the log of changes, retirement, bundles, garbage and backups.
#ifndef GAITSHELF_SERVICE_API_CARE_SERVICE_H_
#define GAITSHELF_SERVICE_API_CARE_SERVICE_H_

#include <cstdint>
#include <string>

#include "gaitshelf/v1/care_service.grpc.pb.h"

#include "service/api/admission.h"
#include "service/api/age_clock.h"
#include "service/api/house.h"

namespace gaitshelf::service {

struct CareServiceOptions {
  std::string backup_folder;                   // empty: no backups
  std::int64_t most_bundle_bytes = 1LL << 30;  // of a bundle that is taken in
  Admission::Limits exports{.total = 4, .each = 2};
};

class CareServiceHandler final : public v1::CareService::Service {
 public:
  CareServiceHandler(House* house, const CareServiceOptions& options)
      : house_(house),
        options_(options),
        exports_(options.exports, "exports", "TOO_MANY_EXPORTS", house->places),
        // Each holds the library's one writer.
        imports_({.total = 1, .each = 1}, "imports", "IMPORT_RUNS", house->places) {}

  grpc::Status ListChanges(grpc::ServerContext* context,
                           const v1::ListChangesRequest* request,
                           v1::ListChangesResponse* response) override;
  grpc::Status ExportBundle(grpc::ServerContext* context,
                            const v1::ExportBundleRequest* request,
                            grpc::ServerWriter<v1::ExportBundleResponse>* writer) override;
  grpc::Status ImportBundle(grpc::ServerContext* context,
                            grpc::ServerReader<v1::ImportBundleRequest>* reader,
                            v1::ImportBundleResponse* response) override;
  grpc::Status RetireGait(grpc::ServerContext* context,
                          const v1::RetireGaitRequest* request,
                          v1::RetireGaitResponse* response) override;
  grpc::Status ReinstateGait(grpc::ServerContext* context,
                             const v1::ReinstateGaitRequest* request,
                             v1::ReinstateGaitResponse* response) override;
  grpc::Status ListRetiredGaits(grpc::ServerContext* context,
                                const v1::ListRetiredGaitsRequest* request,
                                v1::ListRetiredGaitsResponse* response) override;
  grpc::Status CollectGarbage(grpc::ServerContext* context,
                              const v1::CollectGarbageRequest* request,
                              v1::CollectGarbageResponse* response) override;
  grpc::Status BackUp(grpc::ServerContext* context,
                      const v1::BackUpRequest* request,
                      v1::BackUpResponse* response) override;

 private:
  House* house_;
  CareServiceOptions options_;
  const AgeClock age_clock_;
  Admission exports_;
  Admission imports_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_CARE_SERVICE_H_
