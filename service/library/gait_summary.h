// Makes the list entry of a gait.
#ifndef GAITSHELF_SERVICE_LIBRARY_GAIT_SUMMARY_H_
#define GAITSHELF_SERVICE_LIBRARY_GAIT_SUMMARY_H_

#include "gaitshelf/v1/gait.pb.h"

namespace gaitshelf::service {

// Returns everything but is_superseded, which depends on what else is in the library.
v1::GaitSummary SummarizeGait(const v1::Gait& gait);

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_GAIT_SUMMARY_H_
