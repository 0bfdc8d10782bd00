// Bodies of gaits that were read lately, so that they need not be read again, and to go on with
// while the library's database is out of reach. Gaits are immutable but for a later audit, so what
// is kept is at worst an older audit; the checksum tells.
#ifndef GAITSHELF_SERVICE_LIBRARY_GAIT_CACHE_H_
#define GAITSHELF_SERVICE_LIBRARY_GAIT_CACHE_H_

#include <cstddef>
#include <cstdint>
#include <list>
#include <mutex>
#include <optional>
#include <string>
#include <utility>

#include "absl/container/flat_hash_map.h"
#include "service/library/library.h"

namespace gaitshelf::service {

struct KeptGait {
  SharedBytes body{};
  std::string checksum{};  // as it is stored beside the body
  // SqlStorage::News of before it was read; absent when there was none.
  std::optional<std::uint64_t> news{};
};

// Members may be called from any thread.
class GaitCache {
 public:
  // Holds at most this many bytes of bodies; 0 holds nothing.
  explicit GaitCache(std::size_t byte_limit) : byte_limit_(byte_limit) {}

  // Takes the place of what was kept under the name. What was not used for longest goes first; a
  // body above the limit is not kept.
  void Put(const std::string& name, const KeptGait& gait);
  // Keeps what is not kept yet, as what was not used for longest, so far as nothing has to go for
  // it; false when there is no room.
  bool PutIfRoom(const std::string& name, const KeptGait& gait);
  std::optional<KeptGait> Get(const std::string& name);
  // The same question without its being a use.
  bool Has(const std::string& name);

  struct Filling {
    std::size_t gait_count = 0;
    std::size_t byte_count = 0;  // of bodies
  };
  Filling filling();

 private:
  using Entry = std::pair<std::string, KeptGait>;  // with its name

  void Drop(std::list<Entry>::iterator entry);

  const std::size_t byte_limit_;
  std::mutex mutex_;
  std::list<Entry> entries_;  // under mutex_; last used first
  absl::flat_hash_map<std::string, std::list<Entry>::iterator> places_;  // under mutex_
  std::size_t byte_count_ = 0;                                           // under mutex_
};

}  // namespace gaitshelf::service

#endif  // GAITSHELF_SERVICE_LIBRARY_GAIT_CACHE_H_
