// A whole product in a temporary folder: server, workers and library, as a user has them.
#ifndef GAITSHELF_TESTS_END_TO_END_HOUSE_H_
#define GAITSHELF_TESTS_END_TO_END_HOUSE_H_

#include <chrono>
#include <functional>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include <sys/types.h>

#include "gaitshelf/v1/job_service.grpc.pb.h"
#include "gaitshelf/v1/library_service.grpc.pb.h"

#include "service/library/library.h"
#include "tests/support/temporary_folder.h"

namespace gaitshelf::test {

class House {
 public:
  // With a library in a file of its own, or one that houses share.
  House() : library_name_(folder_.File("library.db")) {}
  explicit House(std::string library, std::vector<std::string> flags = {})
      : library_name_(std::move(library)), flags_(std::move(flags)) {}
  House(const House&) = delete;
  House& operator=(const House&) = delete;
  // Kills the server if it still runs.
  ~House();

  // Starts the server and waits until it serves.
  void StartServer();
  void KillServer();
  // Ends it politely and returns its exit status.
  int StopServer();

  // Puts one of the demonstration's quadrupeds, which orders are for then, and a surface into the
  // library.
  void PutDescriptions(const std::string& robot = "weevil");
  // Orders a gait of `advance_m` per cycle and returns the job's name.
  std::string OrderAdvance(double stride_frequency_hz, double advance_m, int knot_count);

  v1::Job GetJob(const std::string& name);
  v1::Job Cancel(const std::string& name);
  bool AwaitEnd(const std::string& job, std::chrono::seconds limit = std::chrono::minutes(2));
  // Follows a job to its end over one call; returns all that was sent, or nothing when the call
  // broke off.
  std::vector<v1::WatchJobResponse> Watch(const std::string& job);
  // Returns the gait whole; without a name when there is none.
  v1::Gait GetGait(const std::string& name);
  v1::GaitSummary FindGait(const v1::GaitOrder& order);

  // Where clients dial, and the server's process.
  [[nodiscard]] std::string address() const { return "unix:" + folder_.File("socket"); }
  [[nodiscard]] pid_t server_process() const { return server_; }
  // Processes that the server has started and that still run.
  [[nodiscard]] std::vector<pid_t> Workers() const;
  // The library as another process sees it.
  service::Library* library();
  [[nodiscard]] std::string ServerLog() const;

  // Waits for something to become true; false when it does not within the limit.
  static bool Await(const std::function<bool()>& is_true,
                    std::chrono::seconds limit = std::chrono::minutes(2));
  static bool IsAlive(pid_t process);

 private:
  TemporaryFolder folder_;
  const std::string library_name_;
  std::vector<std::string> flags_;  // of the server, further ones
  std::string robot_ = "weevil";    // of orders
  pid_t server_ = 0;
  std::unique_ptr<service::Library> library_;
  std::unique_ptr<v1::LibraryService::Stub> library_stub_;
  std::unique_ptr<v1::JobService::Stub> job_stub_;
};

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_END_TO_END_HOUSE_H_
