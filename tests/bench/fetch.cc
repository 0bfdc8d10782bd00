#include "tests/bench/fetch.h"

#include <algorithm>
#include <chrono>
#include <random>
#include <thread>

#include <grpcpp/generic/generic_stub.h>
#include <grpcpp/grpcpp.h>

#include "absl/status/status.h"
#include "absl/strings/str_cat.h"
#include "solver/base/status_macros.h"

namespace gaitshelf::bench {
namespace {

using Clock = std::chrono::steady_clock;

double Seconds(Clock::duration duration) { return std::chrono::duration<double>(duration).count(); }

// Calls of one thread, one after the other, until a time.
absl::StatusOr<Fetched> FetchUntil(const std::shared_ptr<grpc::Channel>& channel,
                                   const Load& load,
                                   unsigned rng,
                                   Clock::time_point end) {
  grpc::GenericStub stub(channel);
  grpc::CompletionQueue queue;
  std::mt19937 generator(rng);
  std::uniform_int_distribution<std::size_t> draw(0, load.requests.size() - 1);
  Fetched fetched;
  while (Clock::now() < end) {
    const grpc::Slice slice(load.requests[draw(generator)]);
    grpc::ClientContext context;
    const Clock::time_point begin = Clock::now();
    const auto call =
        stub.PrepareUnaryCall(&context, load.method, grpc::ByteBuffer(&slice, 1), &queue);
    call->StartCall();
    grpc::ByteBuffer answer;
    grpc::Status status;
    call->Finish(&answer, &status, nullptr);
    void* tag = nullptr;
    bool is_ok = false;
    queue.Next(&tag, &is_ok);
    fetched.answer_us.push_back(1e6 * Seconds(Clock::now() - begin));
    if (!status.ok()) {
      return absl::Status(static_cast<absl::StatusCode>(status.error_code()),
                          absl::StrCat(load.method, ": ", status.error_message()));
    }
    fetched.byte_count += static_cast<std::int64_t>(answer.Length());
  }
  return fetched;
}

}  // namespace

void Fetched::Add(const Fetched& other) {
  answer_us.insert(answer_us.end(), other.answer_us.begin(), other.answer_us.end());
  byte_count += other.byte_count;
  seconds += other.seconds;
}

Fetcher::Fetcher(const std::string& address, int connection_count) {
  for (int i = 0; i < connection_count; ++i) {
    grpc::ChannelArguments arguments;
    arguments.SetInt(GRPC_ARG_USE_LOCAL_SUBCHANNEL_POOL, 1);  // a connection each
    channels_.push_back(
        grpc::CreateCustomChannel(address, grpc::InsecureChannelCredentials(), arguments));
    channels_.back()->WaitForConnected(std::chrono::system_clock::now() + std::chrono::minutes(1));
  }
}

absl::StatusOr<Fetched> Fetcher::Run(const Load& load) const {
  const auto count = static_cast<std::size_t>(load.call_count);
  std::vector<absl::StatusOr<Fetched>> parts(count, Fetched());
  std::vector<std::thread> threads;
  const Clock::time_point begin = Clock::now();
  const auto end = begin + std::chrono::duration_cast<Clock::duration>(
                               std::chrono::duration<double>(load.seconds));
  for (std::size_t i = 0; i < count; ++i) {
    threads.emplace_back([&, i] {
      parts[i] = FetchUntil(channels_[i % channels_.size()],
                            load,
                            load.rng * static_cast<unsigned>(count) + static_cast<unsigned>(i),
                            end);
    });
  }
  for (std::thread& thread : threads) {
    thread.join();
  }
  Fetched all;
  all.seconds = Seconds(Clock::now() - begin);
  for (const absl::StatusOr<Fetched>& part : parts) {
    GAITSHELF_RETURN_IF_ERROR(part.status());
    all.Add(*part);
  }
  return all;
}

}  // namespace gaitshelf::bench
