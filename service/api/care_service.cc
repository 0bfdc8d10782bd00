#include "service/api/care_service.h"

#include <chrono>
#include <cstddef>
#include <limits>
#include <optional>
#include <utility>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "absl/strings/str_cat.h"
#include "absl/time/clock.h"
#include "absl/time/time.h"
#include "service/access/caller.h"
#include "service/api/answer.h"
#include "service/api/bundle_content.h"
#include "service/api/page.h"
#include "service/api/spool.h"
#include "service/api/status.h"
#include "service/library/bundle_file.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

constexpr std::size_t kPieceBytes = 64 << 10;
constexpr int kLongestReason = 200;
constexpr int kMostRetiredDays = 36500;
// A clock that is kept by a time server moves by less.
constexpr absl::Duration kTellingLead = absl::Minutes(1);

absl::Status OutOfRange(absl::string_view field,
                        absl::string_view value,
                        absl::string_view problem,
                        absl::string_view mend) {
  v1::FieldViolation violation;
  violation.set_field(std::string(field));
  violation.set_value(std::string(value));
  violation.set_problem(std::string(problem));
  violation.set_mend(std::string(mend));
  return InvalidRequest({violation});
}

// Sends bytes in pieces of a fixed size.
class PieceWriter {
 public:
  PieceWriter(House* house,
              grpc::ServerContext* context,
              grpc::ServerWriter<v1::ExportBundleResponse>* writer)
      : house_(house), context_(context), writer_(writer) {}

  absl::Status Put(absl::string_view bytes) {
    while (!bytes.empty()) {
      const std::size_t taken = std::min(bytes.size(), kPieceBytes - response_.piece().size());
      response_.mutable_piece()->append(bytes.data(), taken);
      bytes.remove_prefix(taken);
      if (response_.piece().size() == kPieceBytes) {
        GAITSHELF_RETURN_IF_ERROR(Send());
      }
    }
    return absl::OkStatus();
  }

  absl::Status Send() {
    if (house_->stop.is_raised()) {
      return absl::UnavailableError("the server stops; export again later");
    }
    const WriteWatchdog::Watch watch(&house_->watchdog, context_);
    if (context_->IsCancelled() || !writer_->Write(response_)) {
      return absl::CancelledError("the client is gone, or has stopped reading");
    }
    response_.clear_piece();
    return absl::OkStatus();
  }

 private:
  House* house_;
  grpc::ServerContext* context_;
  grpc::ServerWriter<v1::ExportBundleResponse>* writer_;
  v1::ExportBundleResponse response_;
};

absl::Status Export(House* house, const v1::ExportBundleRequest& request, PieceWriter* pieces) {
  BundleWriter bundle([pieces](absl::string_view bytes) { return pieces->Put(bytes); });
  GAITSHELF_RETURN_IF_ERROR(GatherBundle(house->library, request, &bundle));
  return pieces->Send();
}

// Keeps what the client sends in a file of its own: a slow client must not hold the library.
absl::Status Receive(House* house,
                     MessageReader<v1::ImportBundleRequest>* reader,
                     std::int64_t most_bytes,
                     Spool* spool) {
  v1::ImportBundleRequest request;
  while (reader->Read(&request)) {
    if (house->stop.is_raised()) {
      return absl::UnavailableError("the server stops and has taken nothing; import again later");
    }
    if (spool->size() + static_cast<std::int64_t>(request.piece().size()) > most_bytes) {
      return absl::ResourceExhaustedError(absl::StrCat(
          "the bundle has more than ", most_bytes, " bytes; export fewer gaits at a time"));
    }
    GAITSHELF_RETURN_IF_ERROR(spool->Append(request.piece()));
  }
  return spool->Rewind();
}

absl::StatusOr<v1::ImportBundleResponse> Import(House* house,
                                                MessageReader<v1::ImportBundleRequest>* reader,
                                                std::int64_t most_bytes,
                                                const std::string& requester) {
  GAITSHELF_ASSIGN_OR_RETURN(Spool spool, Spool::Create());
  GAITSHELF_RETURN_IF_ERROR(Receive(house, reader, most_bytes, &spool));
  const auto read = [&spool](char* bytes, std::size_t size) { return spool.Read(bytes, size); };
  GAITSHELF_RETURN_IF_ERROR(CheckWholeBundle(read));
  GAITSHELF_RETURN_IF_ERROR(spool.Rewind());
  return TakeBundle(house->library, read, requester);
}

absl::Status CheckRetirement(const v1::RetireGaitRequest& request) {
  if (request.name().empty()) {
    return MissingField("name", "give a gait's name");
  }
  if (request.reason().empty()) {
    return MissingField("reason", "say why, for those who look for the gait later");
  }
  if (request.reason().size() > kLongestReason) {
    return OutOfRange("reason",
                      absl::StrCat(request.reason().size(), " characters"),
                      "must have at most 200 characters",
                      "shorten it");
  }
  return absl::OkStatus();
}

absl::StatusOr<v1::CollectGarbageResponse> Collect(House* house,
                                                   const AgeClock& clock,
                                                   const v1::CollectGarbageRequest& request,
                                                   const std::string& requester) {
  if (request.retired_days() < 0 || request.retired_days() > kMostRetiredDays) {
    return OutOfRange("retired_days",
                      absl::StrCat(request.retired_days()),
                      "must be 0 to 36500",
                      "say how many days ago a gait must have been retired");
  }
  GarbageOptions options{.retired_before_us = std::numeric_limits<std::int64_t>::max(),
                         .is_dry_run = request.is_dry_run(),
                         .requester = requester};
  if (request.retired_days() > 0) {
    if (const absl::Duration lead = clock.Lead(); lead > kTellingLead) {
      Tell(house->log,
           {.level = LogLevel::kWarning,
            .what = "clock was set forward since the start",
            .fields = {{"by", absl::FormatDuration(absl::Trunc(lead, absl::Seconds(1)))},
                       {"advice", "ages of retired gaits leave that out"}}});
    }
    options.retired_before_us =
        absl::ToUnixMicros(clock.Now() - absl::Hours(24) * request.retired_days());
  }
  return house->library->CollectGarbage(options);
}

absl::StatusOr<v1::BackUpResponse> MakeBackup(Library* library, const std::string& folder) {
  if (folder.empty()) {
    return WithReason(absl::FailedPreconditionError(
                          "the server has no folder for backups; start it with --backups FOLDER"),
                      "NO_BACKUP_FOLDER");
  }
  const std::string time = absl::FormatTime("%Y%m%dT%H%M%E3SZ", absl::Now(), absl::UTCTimeZone());
  return library->BackUp(absl::StrCat(folder, "/library-", time, ".db"));
}

}  // namespace

grpc::Status CareServiceHandler::ListChanges(grpc::ServerContext* /*context*/,
                                             const v1::ListChangesRequest* request,
                                             v1::ListChangesResponse* response) {
  if (const absl::Status status = CheckPageSize(request->page_size()); !status.ok()) {
    return ToGrpc(status);
  }
  absl::StatusOr<ChangePage> page = house_->library->ListChanges(
      {.page_size = request->page_size(), .page_token = request->page_token()});
  if (!page.ok()) {
    return ToGrpc(page.status());
  }
  response->mutable_changes()->Assign(page->changes.begin(), page->changes.end());
  response->set_next_page_token(page->next_page_token);
  return grpc::Status::OK;
}

grpc::Status CareServiceHandler::ExportBundle(
    grpc::ServerContext* context,
    const v1::ExportBundleRequest* request,
    grpc::ServerWriter<v1::ExportBundleResponse>* writer) {
  const Admission::Place place(&exports_, *context);
  if (!place.is_taken()) {
    return ToGrpc(place.refusal());
  }
  PieceWriter pieces(house_, context, writer);
  return ToGrpc(Export(house_, *request, &pieces));
}

grpc::Status CareServiceHandler::ImportBundle(grpc::ServerContext* context,
                                              grpc::ServerReader<v1::ImportBundleRequest>* reader,
                                              v1::ImportBundleResponse* response) {
  const Admission::Place place(&imports_, *context);
  if (!place.is_taken()) {
    return ToGrpc(place.refusal());
  }
  MessageReader<v1::ImportBundleRequest> messages(&house_->watchdog, context, reader);
  return Answer(Import(house_, &messages, options_.most_bundle_bytes, RequesterOf(*context)),
                response);
}

grpc::Status CareServiceHandler::RetireGait(grpc::ServerContext* context,
                                            const v1::RetireGaitRequest* request,
                                            v1::RetireGaitResponse* /*response*/) {
  if (const absl::Status status = CheckRetirement(*request); !status.ok()) {
    return ToGrpc(status);
  }
  return ToGrpc(house_->library->RetireGait(
      {.gait = request->name(), .reason = request->reason(), .requester = RequesterOf(*context)}));
}

grpc::Status CareServiceHandler::ReinstateGait(grpc::ServerContext* context,
                                               const v1::ReinstateGaitRequest* request,
                                               v1::ReinstateGaitResponse* /*response*/) {
  if (request->name().empty()) {
    return ToGrpc(MissingField("name", "give a gait's name"));
  }
  return ToGrpc(house_->library->ReinstateGait(request->name(), RequesterOf(*context)));
}

grpc::Status CareServiceHandler::ListRetiredGaits(grpc::ServerContext* /*context*/,
                                                  const v1::ListRetiredGaitsRequest* /*request*/,
                                                  v1::ListRetiredGaitsResponse* response) {
  absl::StatusOr<std::vector<v1::RetiredGait>> gaits = house_->library->ListRetiredGaits();
  if (!gaits.ok()) {
    return ToGrpc(gaits.status());
  }
  response->mutable_gaits()->Assign(gaits->begin(), gaits->end());
  return grpc::Status::OK;
}

grpc::Status CareServiceHandler::CollectGarbage(grpc::ServerContext* context,
                                                const v1::CollectGarbageRequest* request,
                                                v1::CollectGarbageResponse* response) {
  return Answer(Collect(house_, age_clock_, *request, RequesterOf(*context)), response);
}

grpc::Status CareServiceHandler::BackUp(grpc::ServerContext* context,
                                        const v1::BackUpRequest* /*request*/,
                                        v1::BackUpResponse* response) {
  absl::StatusOr<v1::BackUpResponse> made = MakeBackup(house_->library, options_.backup_folder);
  if (made.ok()) {
    Tell(house_->log,
         {.what = "backup is made",
          .fields = {{"gaits", made->gait_count()},
                     {"path", made->path()},
                     {"requester", RequesterOf(*context)}}});
  }
  return Answer(std::move(made), response);
}

}  // namespace gaitshelf::service
