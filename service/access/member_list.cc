#include "service/access/member_list.h"

#include <cctype>
#include <cerrno>
#include <fstream>
#include <iterator>
#include <system_error>
#include <utility>

#include <sys/stat.h>

#include "absl/status/status.h"
#include "absl/strings/ascii.h"
#include "absl/strings/escaping.h"
#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "absl/strings/str_split.h"
#include "service/access/caller.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::service {
namespace {

constexpr std::size_t kFingerprintLength = 64;
constexpr std::chrono::milliseconds kLookPeriod(500);

bool IsName(absl::string_view word) {
  if (word.empty() || word.size() > kLongestRequester) {
    return false;
  }
  for (const char c : word) {
    if (!absl::ascii_isalnum(static_cast<unsigned char>(c)) && c != '.' && c != '_' && c != '-') {
      return false;
    }
  }
  return true;
}

bool IsFingerprint(absl::string_view word) {
  if (word.size() != kFingerprintLength) {
    return false;
  }
  for (const char c : word) {
    if (!absl::ascii_isxdigit(static_cast<unsigned char>(c))) {
      return false;
    }
  }
  return true;
}

// Reads one line that is not empty into the map; returns what is wrong with it, or nothing.
std::string ReadLine(absl::string_view line, MemberMap* members) {
  const std::vector<std::string> words =
      absl::StrSplit(line, absl::ByAnyChar(" \t\r"), absl::SkipEmpty());
  if (!IsName(words[0])) {
    return absl::StrCat(
        "name is '", absl::CEscape(words[0]), "'; use 1 to 63 letters, digits and . _ -");
  }
  Member member;
  const std::optional<Role> role = ParseRole(words.size() > 1 ? words[1] : "");
  if (!role.has_value()) {
    return absl::StrCat("role of ",
                        words[0],
                        " is '",
                        words.size() > 1 ? absl::CEscape(words[1]) : "",
                        "'; give reader, planner or keeper");
  }
  member.role = *role;
  for (std::size_t i = 2; i < words.size(); ++i) {
    if (!IsFingerprint(words[i])) {
      return absl::StrCat("fingerprint of ",
                          words[0],
                          " is '",
                          absl::CEscape(words[i]),
                          "'; give the 64 hexadecimal digits of the certificate's SHA-256");
    }
    member.fingerprints.push_back(absl::AsciiStrToLower(words[i]));
  }
  if (!members->emplace(words[0], std::move(member)).second) {
    return absl::StrCat("name ", words[0], " is there twice; give it one line");
  }
  return "";
}

}  // namespace

absl::StatusOr<MemberMap> ParseMembers(const std::string& text) {
  MemberMap members;
  std::vector<std::string> faults;
  int number = 0;
  for (absl::string_view line : absl::StrSplit(text, '\n')) {
    ++number;
    line = absl::StripAsciiWhitespace(line.substr(0, line.find('#')));
    if (line.empty()) {
      continue;
    }
    if (const std::string fault = ReadLine(line, &members); !fault.empty()) {
      faults.push_back(absl::StrCat("line ", number, ": ", fault));
    }
  }
  if (!faults.empty()) {
    return absl::InvalidArgumentError(absl::StrJoin(faults, "\n"));
  }
  return members;
}

absl::StatusOr<std::unique_ptr<MemberList>> MemberList::Open(const std::string& path,
                                                             EventLog log) {
  std::unique_ptr<MemberList> list(new MemberList(path, std::move(log)));
  list->stamp_ = list->LookAtFile();
  GAITSHELF_RETURN_IF_ERROR(list->Read());
  list->look_again_ = std::chrono::steady_clock::now() + kLookPeriod;
  return list;
}

std::optional<Member> MemberList::Find(const std::string& name) {
  const std::lock_guard<std::mutex> lock(mutex_);
  const auto now = std::chrono::steady_clock::now();
  if (now >= look_again_) {
    look_again_ = now + kLookPeriod;
    // The stamp is from before the reading: a change in between is seen the next time.
    const Stamp stamp = LookAtFile();
    if (!(stamp == stamp_)) {
      stamp_ = stamp;
      const absl::Status status = Read();
      Tell(log_,
           status.ok() ? LogEvent{.what = "list of members is read anew",
                                  .fields = {{"members", members_.size()}}}
                       : LogEvent{.level = LogLevel::kError,
                                  .what = "list of members stays as it was",
                                  .fields = {{"reason", status.message()}}});
    }
  }
  const auto found = members_.find(name);
  return found == members_.end() ? std::nullopt : std::optional<Member>(found->second);
}

absl::Status MemberList::Read() {
  std::ifstream file(path_, std::ios::binary);
  if (!file) {
    return absl::FailedPreconditionError(absl::StrCat("cannot read ",
                                                      path_,
                                                      ": ",
                                                      std::generic_category().message(errno),
                                                      "; deploy/lab-ca makes such a file"));
  }
  const std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  absl::StatusOr<MemberMap> members = ParseMembers(text);
  if (!members.ok()) {
    return absl::FailedPreconditionError(absl::StrCat(path_, ": ", members.status().message()));
  }
  members_ = *std::move(members);
  return absl::OkStatus();
}

MemberList::Stamp MemberList::LookAtFile() const {
  struct stat info {};
  if (stat(path_.c_str(), &info) != 0) {
    return {};
  }
  constexpr std::int64_t kSecond_ns = 1'000'000'000;
  return {.change_ns = info.st_mtim.tv_sec * kSecond_ns + info.st_mtim.tv_nsec,
          .size = info.st_size,
          .number = info.st_ino};
}

}  // namespace gaitshelf::service
