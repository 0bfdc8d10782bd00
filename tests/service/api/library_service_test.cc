#include "service/api/library_service.h"

#include <chrono>
#include <limits>
#include <string>
#include <thread>

#include <gmock/gmock.h>
#include <grpcpp/generic/generic_stub.h>
#include <gtest/gtest.h>

#include "tests/service/api/served_library.h"

namespace gaitshelf::service {
namespace {

using grpc::StatusCode;
using test::BadFieldsOf;
using test::IsError;
using test::IsGrpcOk;
using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;

class LibraryServiceTest : public test::ServedLibrary {
 protected:
  // Calls a unary method with its own context.
  template <typename Request, typename Response>
  grpc::Status Call(grpc::Status (v1::LibraryService::Stub::*method)(grpc::ClientContext*,
                                                                     const Request&,
                                                                     Response*),
                    const Request& request,
                    Response* response) {
    grpc::ClientContext context;
    return (library_stub_.get()->*method)(&context, request, response);
  }
};

TEST_F(LibraryServiceTest, KeepsVersionsOfARobot) {
  v1::PutRobotRequest put;
  *put.mutable_robot() = robot_;
  v1::PutRobotResponse answer;
  ASSERT_THAT(Call(&v1::LibraryService::Stub::PutRobot, put, &answer), IsGrpcOk());
  EXPECT_TRUE(answer.is_new_version());
  EXPECT_EQ(answer.stored().digest(), solver::RobotDigest(robot_));
  ASSERT_THAT(Call(&v1::LibraryService::Stub::PutRobot, put, &answer), IsGrpcOk());
  EXPECT_FALSE(answer.is_new_version());
  put.mutable_robot()->mutable_body()->set_mass_kg(2e-3);
  ASSERT_THAT(Call(&v1::LibraryService::Stub::PutRobot, put, &answer), IsGrpcOk());
  EXPECT_EQ(answer.stored().version(), 2);

  v1::GetRobotRequest get;
  get.set_name("quadruped");
  v1::StoredRobot stored;
  ASSERT_THAT(Call(&v1::LibraryService::Stub::GetRobot, get, &stored), IsGrpcOk());
  EXPECT_EQ(stored.robot().body().mass_kg(), 2e-3);
  get.set_digest(solver::RobotDigest(robot_));
  ASSERT_THAT(Call(&v1::LibraryService::Stub::GetRobot, get, &stored), IsGrpcOk());
  EXPECT_EQ(stored.version(), 1);
  get.set_digest(std::string(64, '0'));
  EXPECT_THAT(Call(&v1::LibraryService::Stub::GetRobot, get, &stored),
              IsError(StatusCode::NOT_FOUND, HasSubstr("quadruped")));

  v1::ListRobotsResponse list;
  ASSERT_THAT(Call(&v1::LibraryService::Stub::ListRobots, v1::ListRobotsRequest(), &list),
              IsGrpcOk());
  ASSERT_EQ(list.robots_size(), 1);
  EXPECT_EQ(list.robots(0).version(), 2);
}

TEST_F(LibraryServiceTest, RefusesABadRobotWithEveryFault) {
  v1::PutRobotRequest put;
  *put.mutable_robot() = robot_;
  put.mutable_robot()->mutable_body()->set_mass_kg(-1.0);
  put.mutable_robot()->mutable_legs(2)->mutable_lumped()->set_foot_mass_kg(
      std::numeric_limits<double>::quiet_NaN());
  v1::PutRobotResponse answer;
  const grpc::Status status = Call(&v1::LibraryService::Stub::PutRobot, put, &answer);
  EXPECT_THAT(status, IsError(StatusCode::INVALID_ARGUMENT, HasSubstr("body.mass_kg is -1")));
  EXPECT_THAT(BadFieldsOf(status), ElementsAre("body.mass_kg", "legs[2].lumped.foot_mass_kg"));
  EXPECT_THAT(
      BadFieldsOf(Call(&v1::LibraryService::Stub::PutRobot, v1::PutRobotRequest(), &answer)),
      ElementsAre("robot"));
}

// Every field of every leg is wrong: more than a status can carry.
TEST_F(LibraryServiceTest, AnswersAThoroughlyBadRobot) {
  v1::PutRobotRequest put;
  for (int i = 0; i < 16; ++i) {
    put.mutable_robot()->add_legs()->mutable_lumped()->mutable_lift()->set_min_m(9.0);
  }
  v1::PutRobotResponse answer;
  EXPECT_THAT(Call(&v1::LibraryService::Stub::PutRobot, put, &answer),
              IsError(StatusCode::INVALID_ARGUMENT, HasSubstr("more; ModelService checks")));
}

TEST_F(LibraryServiceTest, KeepsSurfaces) {
  v1::PutSurfaceRequest put;
  *put.mutable_surface() = surface_;
  v1::PutSurfaceResponse answer;
  ASSERT_THAT(Call(&v1::LibraryService::Stub::PutSurface, put, &answer), IsGrpcOk());
  EXPECT_TRUE(answer.is_new_version());
  v1::GetSurfaceRequest get;
  get.set_name("bench");
  v1::StoredSurface stored;
  ASSERT_THAT(Call(&v1::LibraryService::Stub::GetSurface, get, &stored), IsGrpcOk());
  EXPECT_EQ(stored.digest(), solver::SurfaceDigest(surface_));
  get.set_name("ice");
  EXPECT_THAT(Call(&v1::LibraryService::Stub::GetSurface, get, &stored),
              IsError(StatusCode::NOT_FOUND, HasSubstr("ice")));
  get.clear_name();
  EXPECT_THAT(BadFieldsOf(Call(&v1::LibraryService::Stub::GetSurface, get, &stored)),
              ElementsAre("name"));
  v1::ListSurfacesResponse list;
  ASSERT_THAT(Call(&v1::LibraryService::Stub::ListSurfaces, v1::ListSurfacesRequest(), &list),
              IsGrpcOk());
  EXPECT_EQ(list.surfaces_size(), 1);
  put.mutable_surface()->set_friction_coefficient(-0.1);
  EXPECT_THAT(BadFieldsOf(Call(&v1::LibraryService::Stub::PutSurface, put, &answer)),
              Contains("friction_coefficient"));
  EXPECT_THAT(
      BadFieldsOf(Call(&v1::LibraryService::Stub::PutSurface, v1::PutSurfaceRequest(), &answer)),
      ElementsAre("surface"));
}

TEST_F(LibraryServiceTest, FindsOnlyGoodGaits) {
  v1::FindGaitRequest find;
  v1::GaitSummary summary;
  EXPECT_THAT(BadFieldsOf(Call(&v1::LibraryService::Stub::FindGait, find, &summary)),
              ElementsAre("order"));
  *find.mutable_order() = MakeOrder();
  EXPECT_THAT(Call(&v1::LibraryService::Stub::FindGait, find, &summary),
              IsError(StatusCode::NOT_FOUND, HasSubstr("quadruped")));
  StoreDescriptions();
  const grpc::Status none = Call(&v1::LibraryService::Stub::FindGait, find, &summary);
  EXPECT_THAT(none, IsError(StatusCode::NOT_FOUND, HasSubstr("OrderGait")));
  EXPECT_EQ(test::ReasonOf(none), "NO_GAIT_YET");
  StoreGait(v1::VERDICT_FAILED);
  EXPECT_THAT(Call(&v1::LibraryService::Stub::FindGait, find, &summary),
              IsError(StatusCode::NOT_FOUND, HasSubstr("no good gait")));
  const v1::Gait gait = StoreGait(v1::VERDICT_GOOD);
  ASSERT_THAT(Call(&v1::LibraryService::Stub::FindGait, find, &summary), IsGrpcOk());
  EXPECT_EQ(summary.name(), gait.name());
  find.mutable_order()->set_stride_frequency_hz(-3.0);
  find.mutable_order()->clear_task();
  EXPECT_THAT(BadFieldsOf(Call(&v1::LibraryService::Stub::FindGait, find, &summary)),
              testing::SizeIs(testing::Ge(2)));
}

// The bytes that arrive are those that lie in the library, also of a gait that failed.
TEST_F(LibraryServiceTest, SendsAGaitAsItIsStored) {
  StoreDescriptions();
  const v1::Gait gait = StoreGait(v1::VERDICT_FAILED);
  const std::string stored = *library_->GetGaitBytes(gait.name()).value();
  v1::GetGaitRequest request;
  request.set_name(gait.name());

  const std::string request_bytes = request.SerializeAsString();
  const grpc::Slice request_slice(request_bytes);
  grpc::ByteBuffer sent(&request_slice, 1);
  grpc::ByteBuffer received;
  grpc::ClientContext context;
  grpc::CompletionQueue queue;
  grpc::GenericStub stub(channel_);
  const auto call =
      stub.PrepareUnaryCall(&context, "/gaitshelf.v1.LibraryService/GetGait", sent, &queue);
  call->StartCall();
  grpc::Status status;
  call->Finish(&received, &status, nullptr);
  void* tag = nullptr;
  bool is_ok = false;
  ASSERT_TRUE(queue.Next(&tag, &is_ok));
  ASSERT_THAT(status, IsGrpcOk());
  grpc::Slice slice;
  ASSERT_TRUE(received.DumpToSingleSlice(&slice).ok());
  EXPECT_EQ(std::string(slice.begin(), slice.end()), stored);

  v1::Gait parsed;
  ASSERT_THAT(Call(&v1::LibraryService::Stub::GetGait, request, &parsed), IsGrpcOk());
  EXPECT_EQ(parsed.SerializeAsString(), gait.SerializeAsString());
  request.set_name("g-none");
  EXPECT_THAT(Call(&v1::LibraryService::Stub::GetGait, request, &parsed),
              IsError(StatusCode::NOT_FOUND, HasSubstr("g-none")));
  request.clear_name();
  EXPECT_THAT(BadFieldsOf(Call(&v1::LibraryService::Stub::GetGait, request, &parsed)),
              ElementsAre("name"));
}

class FewGaitsTest : public LibraryServiceTest {
 protected:
  grpc::Status GetGait(const std::string& name) {
    v1::GetGaitRequest request;
    request.set_name(name);
    v1::Gait gait;
    return Call(&v1::LibraryService::Stub::GetGait, request, &gait);
  }
  // A place is given back a moment after the client has its answer.
  grpc::Status GetGaitOnceThereIsRoom(const std::string& name) {
    grpc::Status status = GetGait(name);
    for (int i = 0; i < 500 && status.error_code() == StatusCode::RESOURCE_EXHAUSTED; ++i) {
      std::this_thread::sleep_for(std::chrono::milliseconds(10));
      status = GetGait(name);
    }
    return status;
  }
};

class OneGaitTest : public FewGaitsTest {
 protected:
  OneGaitTest() { options_.gaits = {.total = 1, .each = 1}; }
};

TEST_F(OneGaitTest, GivesBackThePlaceOfEveryCall) {
  const std::string name = StoreGait(v1::VERDICT_GOOD).name();
  for (int i = 0; i < 10; ++i) {
    EXPECT_THAT(GetGaitOnceThereIsRoom(name), IsGrpcOk());
    EXPECT_THAT(GetGaitOnceThereIsRoom("g-none"), IsError(StatusCode::NOT_FOUND, HasSubstr("g-")));
  }
}

class NoGaitTest : public FewGaitsTest {
 protected:
  NoGaitTest() { options_.gaits = {.total = 0, .each = 0}; }
};

TEST_F(NoGaitTest, RefusesWhatIsTooMuch) {
  const grpc::Status status = GetGait(StoreGait(v1::VERDICT_GOOD).name());
  EXPECT_THAT(status, IsError(StatusCode::RESOURCE_EXHAUSTED, HasSubstr("gaits being sent")));
  EXPECT_EQ(test::ReasonOf(status), "TOO_MANY_GAITS");
}

TEST_F(LibraryServiceTest, ListsGaitsPageByPage) {
  StoreDescriptions();
  for (int i = 0; i < 5; ++i) {
    v1::Gait gait = test::MakeSineGait(robot_, {});
    gait.set_name("g-" + std::to_string(i));
    gait.mutable_audit()->set_verdict(i == 0 ? v1::VERDICT_FAILED : v1::VERDICT_GOOD);
    ASSERT_TRUE(library_->InsertGait(gait, "key").ok());
  }
  v1::ListGaitsRequest request;
  request.set_page_size(2);
  request.set_only_good(true);
  std::vector<std::string> names;
  do {
    v1::ListGaitsResponse page;
    ASSERT_THAT(Call(&v1::LibraryService::Stub::ListGaits, request, &page), IsGrpcOk());
    for (const v1::GaitSummary& gait : page.gaits()) {
      names.push_back(gait.name());
    }
    request.set_page_token(page.next_page_token());
  } while (!request.page_token().empty());
  EXPECT_THAT(names, ElementsAre("g-4", "g-3", "g-2", "g-1"));

  v1::ListGaitsResponse page;
  request.set_page_token("nonsense");
  EXPECT_THAT(Call(&v1::LibraryService::Stub::ListGaits, request, &page),
              IsError(StatusCode::INVALID_ARGUMENT, HasSubstr("page_token")));
  for (const int size : {-1, 1001}) {
    request.set_page_size(size);
    EXPECT_THAT(BadFieldsOf(Call(&v1::LibraryService::Stub::ListGaits, request, &page)),
                ElementsAre("page_size"));
  }
}

}  // namespace
}  // namespace gaitshelf::service
