#include "service/library/trial_name.h"

#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "service/library/checksum.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

constexpr std::size_t kDigitCount = 32;

}  // namespace

absl::StatusOr<std::string> TrialName(const v1::Trial& trial,
                                      const std::vector<std::string>& blocks) {
  v1::Trial content = trial;
  content.clear_name();
  content.clear_create_time();
  // Of checksums, which have one length, so that no two lists of blocks run into the same bytes.
  GAITSHELF_ASSIGN_OR_RETURN(std::string sums, Sha256(content.SerializeAsString()));
  for (const std::string& block : blocks) {
    GAITSHELF_ASSIGN_OR_RETURN(const std::string sum, Sha256(block));
    sums += sum;
  }
  GAITSHELF_ASSIGN_OR_RETURN(const std::string digest, Sha256(sums));
  return absl::StrCat("t-", absl::BytesToHexString(digest).substr(0, kDigitCount));
}

}  // namespace gaitshelf::service
