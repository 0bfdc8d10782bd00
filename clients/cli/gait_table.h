// Writes one cycle of a gait as a table of integers, for a controller that has no library: a C
// header or CSV.
#ifndef GAITSHELF_CLIENTS_CLI_GAIT_TABLE_H_
#define GAITSHELF_CLIENTS_CLI_GAIT_TABLE_H_

#include <cstdint>
#include <string>
#include <vector>

#include <google/protobuf/repeated_field.h>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/playback_service.pb.h"

namespace gaitshelf::client {

// Values as integers: value = count * unit, to within the worst error.
struct FixedPoint {
  std::vector<std::int32_t> counts;
  double unit = 1.0;
  // Greatest distance of a value from its integer times the unit; at most half a unit.
  double worst_error = 0.0;
};

// Rounds to signed integers of 8 to 32 bits. The greatest value in size takes the greatest integer;
// values that are all 0 have the unit 1.
FixedPoint ToFixedPoint(const google::protobuf::RepeatedField<double>& values, int bits);

// True for a name that C takes in front of others: a letter, then letters, digits and '_', at most
// 31.
bool IsTableName(const std::string& name);

// Return the whole text. The gait gives the words of the heading, the block the samples; it must
// have passed a BlockChecker (setpoint_text.h).
//   name   begins every name of the header, such as "gait"
std::string TableHeader(const v1::Gait& gait,
                        const v1::SetpointBlock& block,
                        const std::string& name,
                        int bits);
std::string TableCsv(const v1::Gait& gait, const v1::SetpointBlock& block, int bits);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_GAIT_TABLE_H_
