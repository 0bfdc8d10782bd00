// Reads the flags of an order into the message.
#ifndef GAITSHELF_CLIENTS_CLI_ORDER_FLAGS_H_
#define GAITSHELF_CLIENTS_CLI_ORDER_FLAGS_H_

#include <vector>

#include "gaitshelf/v1/task.pb.h"

#include "absl/status/statusor.h"
#include "clients/cli/arguments.h"

namespace gaitshelf::client {

const std::vector<FlagSpec>& OrderFlags();

// Errors:
//   kInvalidArgument   one line for each flag that cannot be read or does not go with the others
absl::StatusOr<v1::GaitOrder> ReadOrder(const Arguments& arguments);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_ORDER_FLAGS_H_
