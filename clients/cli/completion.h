// Completion of command lines, from the table of verbs itself: the script for bash asks this
// program at every key, so that it cannot go stale. Which names a server has is not known here.
#ifndef GAITSHELF_CLIENTS_CLI_COMPLETION_H_
#define GAITSHELF_CLIENTS_CLI_COMPLETION_H_

#include <string>
#include <vector>

#include "clients/cli/arguments.h"

namespace gaitshelf::client {

// First word of a command line by which the script asks; what is typed follows.
inline constexpr char kCompletionRequest[] = "complete-words";

// Things that a server knows by name. In a verb's table ROBOT, SURFACE, GAIT, JOB, TRIAL and
// CALIBRATION stand for such a name, GAIT|ROBOT for either, SURFACE,... for a list with commas, and
// TRIAL... for one or more words.
enum class NameKind { kRobot, kSurface, kGait, kJob, kTrial, kCalibration };

// What may stand at the end of a command line.
struct Candidates {
  std::vector<std::string> words;  // that begin with what is typed
  bool is_file = false;            // true when any file may stand there
  std::vector<NameKind> kinds;     // whose names may stand there
  std::string typed;               // what such a name begins with
  std::string before;              // what stands before it: names of a list, with their commas
};

// Returns the candidates for the last word of a command line without the program's name. The last
// word is what is typed of it, perhaps nothing.
Candidates Complete(const std::vector<VerbSpec>& verbs, const std::vector<std::string>& words);

// Returns the script for bash.
std::string BashCompletion();

}  // namespace gaitshelf::client

#endif  // GAITSHELF_CLIENTS_CLI_COMPLETION_H_
