// Trials, analyses and comparisons as text for a terminal of 80 columns.
#ifndef GAITSHELF_CLIENTS_CLI_TRIAL_TEXT_H_
#define GAITSHELF_CLIENTS_CLI_TRIAL_TEXT_H_

#include <string>

#include "gaitshelf/v1/trial_service.pb.h"

namespace gaitshelf::client {

// One row for each trial.
std::string TrialTable(const v1::ListTrialsResponse& trials);
// The description with every column of every log.
std::string TrialText(const v1::Trial& trial);
std::string AnalysisText(const v1::TrialAnalysis& analysis);
// Figures side by side, then what differs, greatest effect on the stride first.
std::string ComparisonText(const v1::TrialComparison& comparison);

// Breaks a text into lines of at most 80 columns, the later ones indented.
std::string WrappedText(const std::string& text,
                        const std::string& first,
                        const std::string& later);

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_TRIAL_TEXT_H_
