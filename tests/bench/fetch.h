// Clients that ask one unary call again and again with bytes, each as soon as the last answer is
// there: how many answers a second, and how long each took. Answers are not parsed.
#ifndef GAITSHELF_TESTS_BENCH_FETCH_H_
#define GAITSHELF_TESTS_BENCH_FETCH_H_

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include <grpcpp/channel.h>

#include "absl/status/statusor.h"

namespace gaitshelf::bench {

struct Load {
  std::string method;                 // "/gaitshelf.v1.LibraryService/GetGait"
  std::vector<std::string> requests;  // serialised; every call draws one
  int call_count = 8;                 // at a time
  double seconds = 1.0;
  unsigned rng = 0;
};

struct Fetched {
  std::vector<double> answer_us;  // how long each answer took
  std::int64_t byte_count = 0;
  double seconds = 0.0;

  [[nodiscard]] double rate_per_s() const {
    return static_cast<double>(answer_us.size()) / seconds;
  }
  void Add(const Fetched& other);
};

// Connections to one server, which outlives this.
class Fetcher {
 public:
  Fetcher(const std::string& address, int connection_count);

  // Errors: that of the first call that failed.
  absl::StatusOr<Fetched> Run(const Load& load) const;

 private:
  std::vector<std::shared_ptr<grpc::Channel>> channels_;
};

}  // namespace gaitshelf::bench

#endif  // GAITSHELF_TESTS_BENCH_FETCH_H_
