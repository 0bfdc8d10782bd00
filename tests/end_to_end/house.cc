#include "tests/end_to_end/house.h"

#include <chrono>
#include <csignal>
#include <cstdint>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <sstream>
#include <thread>

#include <fcntl.h>
#include <grpcpp/grpcpp.h>
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include "service/library/open_library.h"
#include "tests/support/paths.h"
#include "tests/support/read_description.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::test {
namespace {

std::string ReadFile(const std::string& path) {
  std::ifstream file(path);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

std::string DemoFile(const std::string& name) {
  return ReadFile(SourcePath("deploy/demo/" + name));
}

}  // namespace

House::~House() {
  if (server_ != 0) {
    KillServer();
  }
}

void House::StartServer() {
  const std::string socket = address();
  const std::string log = folder_.File("log");
  std::vector<std::string> command = {
      ProgramPath("gaitshelfd"), "--library", library_name_, "--listen", socket};
  if (flags_.empty()) {
    command.insert(command.end(), {"--workers", "1"});
  }
  command.insert(command.end(), flags_.begin(), flags_.end());
  std::vector<char*> words;
  for (std::string& word : command) {
    words.push_back(word.data());
  }
  words.push_back(nullptr);
  server_ = fork();
  if (server_ == 0) {
    const int file = open(log.c_str(), O_WRONLY | O_CREAT | O_APPEND, 0600);
    dup2(file, STDOUT_FILENO);
    dup2(file, STDERR_FILENO);
    execv(words.front(), words.data());
    _exit(127);
  }
  // A pool of its own: a connection to a server that was killed must not be used again.
  grpc::ChannelArguments arguments;
  arguments.SetInt(GRPC_ARG_USE_LOCAL_SUBCHANNEL_POOL, 1);
  // The first look at a server comes before it listens, and the next a second later by default: by
  // then a solve that goes on may be at its end, unseen.
  constexpr int kReconnectMs = 20;
  arguments.SetInt(GRPC_ARG_INITIAL_RECONNECT_BACKOFF_MS, kReconnectMs);
  arguments.SetInt(GRPC_ARG_MIN_RECONNECT_BACKOFF_MS, kReconnectMs);
  arguments.SetInt(GRPC_ARG_MAX_RECONNECT_BACKOFF_MS, kReconnectMs);
  const auto channel =
      grpc::CreateCustomChannel(socket, grpc::InsecureChannelCredentials(), arguments);
  ASSERT_TRUE(
      channel->WaitForConnected(std::chrono::system_clock::now() + std::chrono::seconds(20)))
      << ServerLog();
  library_stub_ = v1::LibraryService::NewStub(channel);
  job_stub_ = v1::JobService::NewStub(channel);
}

void House::KillServer() {
  kill(server_, SIGKILL);
  waitpid(server_, nullptr, 0);
  server_ = 0;
}

int House::StopServer() {
  kill(server_, SIGTERM);
  int status = 0;
  waitpid(server_, &status, 0);
  server_ = 0;
  return status;
}

void House::PutDescriptions(const std::string& name) {
  robot_ = name;
  const auto robot = test::ReadRobotText(DemoFile(name + ".robot.textproto"));
  ASSERT_THAT(robot, IsOk());
  const auto surface = test::ReadSurfaceText(DemoFile("liner-felt.surface.textproto"));
  ASSERT_THAT(surface, IsOk());
  grpc::ClientContext robot_context;
  v1::PutRobotRequest robot_request;
  v1::PutRobotResponse robot_response;
  *robot_request.mutable_robot() = *robot;
  const grpc::Status robot_status =
      library_stub_->PutRobot(&robot_context, robot_request, &robot_response);
  ASSERT_TRUE(robot_status.ok()) << robot_status.error_message();
  grpc::ClientContext surface_context;
  v1::PutSurfaceRequest surface_request;
  v1::PutSurfaceResponse surface_response;
  *surface_request.mutable_surface() = *surface;
  const grpc::Status surface_status =
      library_stub_->PutSurface(&surface_context, surface_request, &surface_response);
  ASSERT_TRUE(surface_status.ok()) << surface_status.error_message();
}

std::string House::OrderAdvance(double stride_frequency_hz, double advance_m, int knot_count) {
  grpc::ClientContext context;
  v1::OrderGaitRequest request;
  request.mutable_order()->set_robot(robot_);
  request.mutable_order()->set_surface("liner-felt");
  request.mutable_order()->set_stride_frequency_hz(stride_frequency_hz);
  request.mutable_order()->mutable_task()->mutable_advance()->set_advance_m(advance_m);
  request.mutable_order()->mutable_options()->set_knot_count(knot_count);
  request.set_requester("kill test");
  v1::OrderGaitResponse response;
  const grpc::Status status = job_stub_->OrderGait(&context, request, &response);
  EXPECT_TRUE(status.ok()) << status.error_message();
  EXPECT_TRUE(response.has_job());
  return response.job().name();
}

v1::Job House::GetJob(const std::string& name) {
  grpc::ClientContext context;
  v1::GetJobRequest request;
  request.set_name(name);
  v1::Job job;
  const grpc::Status status = job_stub_->GetJob(&context, request, &job);
  EXPECT_TRUE(status.ok()) << status.error_message();
  return job;
}

v1::Job House::Cancel(const std::string& name) {
  grpc::ClientContext context;
  v1::CancelJobRequest request;
  request.set_name(name);
  v1::Job job;
  const grpc::Status status = job_stub_->CancelJob(&context, request, &job);
  EXPECT_TRUE(status.ok()) << status.error_message();
  return job;
}

bool House::AwaitEnd(const std::string& job, std::chrono::seconds limit) {
  const auto has_ended = [&] {
    const v1::JobState state = GetJob(job).state();
    return state != v1::JOB_STATE_QUEUED && state != v1::JOB_STATE_RUNNING;
  };
  return Await(has_ended, limit);
}

std::vector<v1::WatchJobResponse> House::Watch(const std::string& job) {
  grpc::ClientContext context;
  v1::WatchJobRequest request;
  request.set_name(job);
  const auto reader = job_stub_->WatchJob(&context, request);
  std::vector<v1::WatchJobResponse> responses;
  v1::WatchJobResponse response;
  while (reader->Read(&response)) {
    responses.push_back(response);
  }
  const grpc::Status status = reader->Finish();
  EXPECT_TRUE(status.ok()) << status.error_message();
  return status.ok() ? responses : std::vector<v1::WatchJobResponse>();
}

v1::Gait House::GetGait(const std::string& name) {
  grpc::ClientContext context;
  v1::GetGaitRequest request;
  request.set_name(name);
  v1::Gait gait;
  const grpc::Status status = library_stub_->GetGait(&context, request, &gait);
  EXPECT_TRUE(status.ok()) << status.error_message();
  return gait;
}

v1::GaitSummary House::FindGait(const v1::GaitOrder& order) {
  grpc::ClientContext context;
  v1::FindGaitRequest request;
  *request.mutable_order() = order;
  v1::GaitSummary gait;
  const grpc::Status status = library_stub_->FindGait(&context, request, &gait);
  EXPECT_TRUE(status.ok()) << status.error_message();
  return gait;
}

std::vector<pid_t> House::Workers() const {
  // Children are listed thread by thread.
  std::vector<pid_t> workers;
  const std::string tasks = "/proc/" + std::to_string(server_) + "/task";
  std::error_code error;
  for (const auto& task : std::filesystem::directory_iterator(tasks, error)) {
    std::istringstream children(ReadFile(task.path().string() + "/children"));
    pid_t child = 0;
    while (children >> child) {
      workers.push_back(child);
    }
  }
  return workers;
}

service::Library* House::library() {
  if (library_ == nullptr) {
    auto opened = service::OpenLibrary(library_name_, {});
    EXPECT_THAT(opened, IsOk());
    library_ = std::move(*opened);
  }
  return library_.get();
}

std::string House::ServerLog() const { return ReadFile(folder_.File("log")); }

bool House::Await(const std::function<bool()>& is_true, std::chrono::seconds limit) {
  constexpr std::chrono::milliseconds kPause(10);
  const auto looks = limit * (IsSanitized() ? 5 : 1) / kPause;
  for (std::int64_t i = 0; i < looks; ++i) {
    if (is_true()) {
      return true;
    }
    std::this_thread::sleep_for(kPause);
  }
  return false;
}

bool House::IsAlive(pid_t process) { return kill(process, 0) == 0; }

}  // namespace gaitshelf::test
