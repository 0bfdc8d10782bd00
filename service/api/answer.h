// Hands what a handler found to gRPC.
#ifndef GAITSHELF_SERVICE_API_ANSWER_H_
#define GAITSHELF_SERVICE_API_ANSWER_H_

#include <utility>

#include <grpcpp/server_context.h>
#include <grpcpp/support/status.h>
#include <grpcpp/support/sync_stream.h>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/api/house.h"
#include "service/api/status.h"

namespace gaitshelf::service {

// Hands an answer over, or its error.
template <typename Message>
grpc::Status Answer(absl::StatusOr<Message> result, Message* response) {
  if (!result.ok()) {
    return ToGrpc(result.status());
  }
  *response = *std::move(result);
  return grpc::Status::OK;
}

// Sends one message of a stream, under the watchdog.
//
// Errors:
//   kCancelled   the client is gone, or has stopped reading
template <typename Message>
absl::Status Send(House* house,
                  const Message& message,
                  grpc::ServerContext* context,
                  grpc::ServerWriter<Message>* writer) {
  const WriteWatchdog::Watch watch(&house->watchdog, context);
  if (context->IsCancelled() || !writer->Write(message)) {
    return absl::CancelledError("the client is gone, or has stopped reading");
  }
  return absl::OkStatus();
}

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_ANSWER_H_
