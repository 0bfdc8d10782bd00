// Hands a handler's result to gRPC.
#ifndef GAITSHELF_SERVICE_API_ANSWER_H_
#define GAITSHELF_SERVICE_API_ANSWER_H_

#include <utility>

#include <grpcpp/support/status.h>

#include "absl/status/statusor.h"
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

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_API_ANSWER_H_
