#include "service/api/job_service.h"

#include <chrono>
#include <string>
#include <thread>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/service/api/served_library.h"

namespace gaitshelf::service {
namespace {

using grpc::StatusCode;
using test::BadFieldsOf;
using test::IsError;
using test::IsGrpcOk;
using testing::ElementsAre;
using testing::HasSubstr;

class JobServiceTest : public test::ServedLibrary {
 protected:
  JobServiceTest() {
    library_options_.queue_limit = 3;
    library_options_.jobs_per_member = 2;
    options_.watches.total = 2;
  }

  grpc::Status Order(const v1::OrderGaitRequest& request, v1::OrderGaitResponse* response) {
    grpc::ClientContext context;
    return job_stub_->OrderGait(&context, request, response);
  }

  v1::OrderGaitRequest MakeRequest() const {
    v1::OrderGaitRequest request;
    *request.mutable_order() = MakeOrder();
    request.set_requester("tester");
    return request;
  }

  std::string OrderJob() {
    StoreDescriptions();
    v1::OrderGaitResponse response;
    EXPECT_THAT(Order(MakeRequest(), &response), IsGrpcOk());
    return response.job().name();
  }

  grpc::Status Cancel(const std::string& name, v1::Job* job) {
    v1::CancelJobRequest request;
    request.set_name(name);
    grpc::ClientContext context;
    return job_stub_->CancelJob(&context, request, job);
  }
};

TEST_F(JobServiceTest, OrderAnswersFromTheLibraryOrQueuesOneJob) {
  StoreDescriptions();
  v1::OrderGaitResponse response;
  ASSERT_THAT(Order(MakeRequest(), &response), IsGrpcOk());
  EXPECT_EQ(response.job().state(), v1::JOB_STATE_QUEUED);
  EXPECT_EQ(response.job().requester(), "tester");
  EXPECT_FALSE(response.joined());
  EXPECT_EQ(wake_count_, 1);
  const std::string name = response.job().name();
  ASSERT_THAT(Order(MakeRequest(), &response), IsGrpcOk());
  EXPECT_EQ(response.job().name(), name);
  EXPECT_TRUE(response.joined());

  StoreGait(v1::VERDICT_FAILED);
  ASSERT_THAT(Order(MakeRequest(), &response), IsGrpcOk());
  EXPECT_TRUE(response.has_job());
  const v1::Gait gait = StoreGait(v1::VERDICT_GOOD);
  ASSERT_THAT(Order(MakeRequest(), &response), IsGrpcOk());
  EXPECT_EQ(response.gait().name(), gait.name());

  v1::OrderGaitRequest anew = MakeRequest();
  anew.set_solve_anew(true);
  ASSERT_THAT(Order(anew, &response), IsGrpcOk());
  EXPECT_TRUE(response.has_job());
}

TEST_F(JobServiceTest, OrderRefusesWithEveryFault) {
  v1::OrderGaitResponse response;
  EXPECT_THAT(BadFieldsOf(Order(v1::OrderGaitRequest(), &response)), ElementsAre("order"));
  EXPECT_THAT(Order(MakeRequest(), &response),
              IsError(StatusCode::NOT_FOUND, HasSubstr("quadruped")));
  v1::OrderGaitRequest request = MakeRequest();
  request.set_requester(std::string(64, 'x'));
  EXPECT_THAT(BadFieldsOf(Order(request, &response)), ElementsAre("requester"));
  request = MakeRequest();
  request.mutable_order()->set_stride_frequency_hz(-1.0);
  request.mutable_order()->mutable_task()->mutable_advance()->set_advance_m(5.0);
  request.mutable_order()->mutable_options()->set_knot_count(3);
  const grpc::Status status = Order(request, &response);
  EXPECT_THAT(status, IsError(StatusCode::INVALID_ARGUMENT, HasSubstr("-1")));
  EXPECT_THAT(BadFieldsOf(status), testing::SizeIs(3));
}

TEST_F(JobServiceTest, OrderRefusesBeyondTheLimitsOfTheQueue) {
  StoreDescriptions();
  const auto order = [&](const char* requester, double frequency_hz) {
    v1::OrderGaitRequest request = MakeRequest();
    request.set_requester(requester);
    request.mutable_order()->set_stride_frequency_hz(frequency_hz);
    v1::OrderGaitResponse response;
    return Order(request, &response);
  };
  ASSERT_THAT(order("ada", 5.0), IsGrpcOk());
  ASSERT_THAT(order("ada", 6.0), IsGrpcOk());
  const grpc::Status own = order("ada", 7.0);
  EXPECT_THAT(own, IsError(StatusCode::RESOURCE_EXHAUSTED, HasSubstr("ada has 2 jobs")));
  EXPECT_EQ(test::ReasonOf(own), "TOO_MANY_JOBS");
  EXPECT_THAT(order("ada", 6.0), IsGrpcOk());  // joins
  ASSERT_THAT(order("ben", 7.0), IsGrpcOk());
  const grpc::Status full = order("ben", 8.0);
  EXPECT_THAT(full, IsError(StatusCode::RESOURCE_EXHAUSTED, HasSubstr("the queue is full")));
  EXPECT_EQ(test::ReasonOf(full), "QUEUE_FULL");
}

TEST_F(JobServiceTest, CancelEndsAQueuedJobOnce) {
  const std::string name = OrderJob();
  v1::Job job;
  ASSERT_THAT(Cancel(name, &job), IsGrpcOk());
  EXPECT_EQ(job.state(), v1::JOB_STATE_CANCELLED);
  EXPECT_EQ(wake_count_, 2);
  EXPECT_THAT(Cancel(name, &job), IsError(StatusCode::FAILED_PRECONDITION, HasSubstr(name)));
  EXPECT_THAT(Cancel("j-99", &job), IsError(StatusCode::NOT_FOUND, HasSubstr("j-99")));
  EXPECT_THAT(BadFieldsOf(Cancel("", &job)), ElementsAre("name"));
}

TEST_F(JobServiceTest, GetsAndListsJobs) {
  const std::string name = OrderJob();
  v1::GetJobRequest get;
  get.set_name(name);
  v1::Job job;
  {
    grpc::ClientContext context;
    ASSERT_THAT(job_stub_->GetJob(&context, get, &job), IsGrpcOk());
  }
  EXPECT_EQ(job.name(), name);
  get.set_name("j-99");
  {
    grpc::ClientContext context;
    EXPECT_THAT(job_stub_->GetJob(&context, get, &job),
                IsError(StatusCode::NOT_FOUND, HasSubstr("j-99")));
  }
  v1::ListJobsRequest list;
  v1::ListJobsResponse page;
  {
    grpc::ClientContext context;
    ASSERT_THAT(job_stub_->ListJobs(&context, list, &page), IsGrpcOk());
  }
  EXPECT_EQ(page.jobs_size(), 1);
  Cancel(name, &job);
  list.set_only_open(true);
  {
    grpc::ClientContext context;
    ASSERT_THAT(job_stub_->ListJobs(&context, list, &page), IsGrpcOk());
  }
  EXPECT_EQ(page.jobs_size(), 0);
  list.set_page_size(5000);
  grpc::ClientContext context;
  EXPECT_THAT(BadFieldsOf(job_stub_->ListJobs(&context, list, &page)), ElementsAre("page_size"));
}

TEST_F(JobServiceTest, WatchFollowsAJobToItsGait) {
  const std::string name = OrderJob();
  v1::WatchJobRequest request;
  request.set_name(name);
  grpc::ClientContext context;
  const auto reader = job_stub_->WatchJob(&context, request);
  v1::WatchJobResponse response;
  ASSERT_TRUE(reader->Read(&response));
  EXPECT_EQ(response.job().state(), v1::JOB_STATE_QUEUED);

  const JobFence fence{.job = name, .attempt = 1};
  ASSERT_TRUE(library_->ClaimNextJob("tester").ok());
  ASSERT_TRUE(reader->Read(&response));
  EXPECT_EQ(response.job().state(), v1::JOB_STATE_RUNNING);
  v1::PlanProgress progress;
  progress.set_iteration(17);
  ASSERT_TRUE(library_->WriteProgress(fence, progress).ok());
  ASSERT_TRUE(reader->Read(&response));
  EXPECT_EQ(response.job().progress().iteration(), 17);
  const v1::Gait gait = StoreGait(v1::VERDICT_GOOD);
  ASSERT_TRUE(library_->FinishJob(fence, {.state = v1::JOB_STATE_DONE, .gait = gait.name()}).ok());
  ASSERT_TRUE(reader->Read(&response));
  EXPECT_EQ(response.job().state(), v1::JOB_STATE_DONE);
  EXPECT_EQ(response.gait().name(), gait.name());
  EXPECT_FALSE(reader->Read(&response));
  EXPECT_THAT(reader->Finish(), IsGrpcOk());
}

TEST_F(JobServiceTest, WatchRefusesUnknownJobsAndTooManyWatchers) {
  v1::WatchJobRequest request;
  request.set_name("j-99");
  v1::WatchJobResponse response;
  {
    grpc::ClientContext context;
    const auto reader = job_stub_->WatchJob(&context, request);
    EXPECT_FALSE(reader->Read(&response));
    EXPECT_THAT(reader->Finish(), IsError(StatusCode::NOT_FOUND, HasSubstr("j-99")));
  }
  request.set_name(OrderJob());
  grpc::ClientContext contexts[2];
  const auto one = job_stub_->WatchJob(&contexts[0], request);
  const auto two = job_stub_->WatchJob(&contexts[1], request);
  ASSERT_TRUE(one->Read(&response));
  ASSERT_TRUE(two->Read(&response));
  {
    grpc::ClientContext context;
    const auto reader = job_stub_->WatchJob(&context, request);
    EXPECT_FALSE(reader->Read(&response));
    const grpc::Status status = reader->Finish();
    EXPECT_THAT(status, IsError(StatusCode::RESOURCE_EXHAUSTED, HasSubstr("2 followed jobs")));
    EXPECT_EQ(test::ReasonOf(status), "TOO_MANY_WATCHES");
  }
  // A watcher that leaves makes room, and the job stays.
  contexts[0].TryCancel();
  EXPECT_EQ(one->Finish().error_code(), StatusCode::CANCELLED);
  bool is_served = false;
  for (int i = 0; i < 100 && !is_served; ++i) {
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
    grpc::ClientContext context;
    const auto reader = job_stub_->WatchJob(&context, request);
    is_served = reader->Read(&response);
    context.TryCancel();
    reader->Finish();
  }
  EXPECT_TRUE(is_served);
  EXPECT_EQ(library_->GetJob(request.name())->state(), v1::JOB_STATE_QUEUED);
}

}  // namespace
}  // namespace gaitshelf::service
