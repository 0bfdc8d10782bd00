// Writes gaits for a person.
#ifndef GAITSHELF_CLIENTS_CLI_GAIT_TEXT_H_
#define GAITSHELF_CLIENTS_CLI_GAIT_TEXT_H_

#include <string>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/library_service.pb.h"

namespace gaitshelf::client {

// Returns one line a gait under a heading, at most 80 columns. The names stand in full, because
// they are what the next command needs; "got mm" is the replayed displacement, or the replayed rise
// of a hop.
std::string GaitTable(const v1::ListGaitsResponse& gaits);

// Returns a page on one gait: what was asked, plan, audit, replay, one line a foot, provenance.
std::string GaitText(const v1::Gait& gait);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_GAIT_TEXT_H_
