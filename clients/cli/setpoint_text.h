// Writes streamed setpoints as CSV or as a compact table.
#ifndef GAITSHELF_CLIENTS_CLI_SETPOINT_TEXT_H_
#define GAITSHELF_CLIENTS_CLI_SETPOINT_TEXT_H_

#include <cstdint>
#include <string>
#include <vector>

#include "gaitshelf/v1/playback_service.pb.h"

#include "absl/status/status.h"

namespace gaitshelf::client {

// Checks that a block follows the ones before and that its arrays have the stated lengths, so that
// a writer never reads beyond them.
class BlockChecker {
 public:
  // Errors:
  //   kDataLoss   samples are missing, or an array has another length than stated
  absl::Status Check(const v1::SetpointBlock& block);

  const std::vector<std::string>& leg_names() const { return leg_names_; }
  const std::vector<std::string>& foot_names() const { return foot_names_; }
  std::int64_t sample_count() const { return sample_count_; }

 private:
  std::vector<std::string> leg_names_;
  std::vector<std::string> foot_names_;
  std::int64_t sample_count_ = 0;
  bool has_names_ = false;
};

// Returns the CSV heading and a newline. Each column ends in its unit; columns of one leg start
// with its name.
std::string CsvHeading(const std::vector<std::string>& leg_names,
                       const std::vector<std::string>& foot_names);

// Returns one line a sample. Numbers are written with the digits that give the same double back.
std::string CsvRows(const v1::SetpointBlock& block);

// Returns the heading of the compact table, at most 80 columns: legs beyond the fourth are left
// out.
std::string CompactHeading(const std::vector<std::string>& leg_names);

// Returns the compact line of one sample of a block.
std::string CompactRow(const v1::SetpointBlock& block, int sample);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_SETPOINT_TEXT_H_
