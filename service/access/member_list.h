// Who may use the server over the network: a file with a line for each member. It says what he may
// do and which of his certificates hold, so that one line takes a role, a lost key or a member away
// at once, without a list of revoked certificates.
//
//   # name  role     SHA-256 of his certificates; without one, any that the laboratory's CA has
//   issued ada     keeper   0f3c... ben     reader
#ifndef GAITSHELF_SERVICE_ACCESS_MEMBER_LIST_H_
#define GAITSHELF_SERVICE_ACCESS_MEMBER_LIST_H_

#include <chrono>
#include <cstdint>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"
#include "service/access/role.h"
#include "service/log/event.h"

namespace gaitshelf::service {

struct Member {
  Role role = Role::kReader;
  std::vector<std::string> fingerprints;  // lower case hexadecimal; empty: any certificate of his
};

using MemberMap = std::map<std::string, Member>;

// Reads the text of such a file. A name has 1 to 63 of a-z A-Z 0-9 . _ -.
//
// Errors:
//   kInvalidArgument   every fault, a line each
absl::StatusOr<MemberMap> ParseMembers(const std::string& text);

// The list as it stands in its file now: a change holds within a second. Thread-safe.
class MemberList {
 public:
  // Errors:
  //   kFailedPrecondition   the file cannot be read, or has faults
  static absl::StatusOr<std::unique_ptr<MemberList>> Open(const std::string& path, EventLog log);

  // Absent for those who are not on the list. A file that has become unreadable or faulty since is
  // named in the log, and the list stays as it was.
  std::optional<Member> Find(const std::string& name);

 private:
  // What tells one state of the file from another.
  struct Stamp {
    std::int64_t change_ns = 0;
    std::int64_t size = -1;
    std::uint64_t number = 0;
    bool operator==(const Stamp&) const = default;
  };

  MemberList(std::string path, EventLog log) : path_(std::move(path)), log_(std::move(log)) {}

  absl::Status Read();
  Stamp LookAtFile() const;

  const std::string path_;
  const EventLog log_;
  std::mutex mutex_;
  MemberMap members_;
  Stamp stamp_;
  std::chrono::steady_clock::time_point look_again_;
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_ACCESS_MEMBER_LIST_H_
