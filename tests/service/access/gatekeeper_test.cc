#include "service/access/gatekeeper.h"

#include <fstream>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/time/clock.h"
#include "tests/service/access/peer.h"
#include "tests/support/lab.h"
#include "tests/support/log_lines.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

using grpc::StatusCode;
using test::Peer;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

constexpr char kGet[] = "/gaitshelf.v1.LibraryService/GetGait";
constexpr char kOrder[] = "/gaitshelf.v1.JobService/OrderGait";
constexpr char kTidy[] = "/gaitshelf.v1.CareService/CollectGarbage";

MATCHER_P2(Refuses, code, message, "is a refusal with the code and a message that matches") {
  *result_listener << "code " << arg.error_code() << ": " << arg.error_message();
  return arg.error_code() == code &&
         testing::ExplainMatchResult(HasSubstr(message), arg.error_message(), result_listener);
}

constexpr int kMostCalls = 3;

class GatekeeperTest : public testing::Test {
 protected:
  GatekeeperTest() {
    lab_.Run("member", "ada keeper");
    lab_.Run("member", "kim planner");
    lab_.Run("member", "ben reader");
    auto opened = MemberList::Open(lab_.File("server/members"), log_.log());
    EXPECT_THAT(opened.status(), test::IsOk());
    members_ = std::move(*opened);
    gatekeeper_ = std::make_unique<Gatekeeper>(members_.get(), &calls_, kMostCalls, log_.log());
  }

  Peer PeerOf(const std::string& name) const {
    return Peer({"gaitshelf:member/" + name}, lab_.Read("member/" + name + "/member.pem"));
  }
  grpc::Status Judge(absl::string_view method, const Peer& peer) {
    return gatekeeper_->Judge(method, peer, absl::Now());
  }

  test::Lab lab_;
  test::LogLines log_;
  CallCount calls_;
  std::unique_ptr<MemberList> members_;
  std::unique_ptr<Gatekeeper> gatekeeper_;
};

TEST_F(GatekeeperTest, LetsEveryoneDoWhatHisRoleMay) {
  for (const char* name : {"ada", "kim", "ben"}) {
    EXPECT_TRUE(Judge(kGet, PeerOf(name)).ok()) << name;
  }
  EXPECT_TRUE(Judge(kOrder, PeerOf("kim")).ok());
  EXPECT_TRUE(Judge(kTidy, PeerOf("ada")).ok());
  EXPECT_THAT(log_.lines(), IsEmpty());
}

TEST_F(GatekeeperTest, RefusesMoreAndSaysSoToBothSides) {
  EXPECT_THAT(Judge(kOrder, PeerOf("ben")),
              Refuses(StatusCode::PERMISSION_DENIED, "ben is a reader; OrderGait takes a planner"));
  EXPECT_THAT(
      Judge(kTidy, PeerOf("kim")),
      Refuses(StatusCode::PERMISSION_DENIED, "kim is a planner; CollectGarbage takes a keeper"));
  EXPECT_THAT(log_.lines(),
              ElementsAre(HasSubstr("level=warning event=\"call is refused\" "
                                    "call=/gaitshelf.v1.JobService/OrderGait member=ben "
                                    "code=PERMISSION_DENIED reason=\"ben is a reader; "),
                          HasSubstr("CollectGarbage member=kim")));
}

TEST_F(GatekeeperTest, RefusesCallsThatNobodyMayMake) {
  EXPECT_THAT(Judge("/gaitshelf.v1.LibraryService/DropAll", PeerOf("ada")),
              Refuses(StatusCode::UNIMPLEMENTED, "no such call"));
  EXPECT_THAT(Judge("", PeerOf("ada")), Refuses(StatusCode::UNIMPLEMENTED, "no such call"));
  EXPECT_THAT(Judge("/a\nlevel=error", PeerOf("ada")),
              Refuses(StatusCode::UNIMPLEMENTED, "no such call"));
  EXPECT_THAT(log_.lines().back(), HasSubstr("call=\"/a\\nlevel=error\" member=ada"));
}

TEST_F(GatekeeperTest, RefusesThoseWhoAreNotOnTheList) {
  const std::string pem = lab_.Read("member/ada/member.pem");
  EXPECT_THAT(Judge(kGet, Peer({"gaitshelf:member/eve"}, pem)),
              Refuses(StatusCode::PERMISSION_DENIED, "eve is no member"));
  EXPECT_THAT(Judge(kGet, Peer({}, pem)), Refuses(StatusCode::UNAUTHENTICATED, "names no member"));
  EXPECT_THAT(Judge(kGet, Peer({"gaitshelf:member/ada", "gaitshelf:member/kim"}, pem)),
              Refuses(StatusCode::UNAUTHENTICATED, "names no member"));
  EXPECT_THAT(log_.lines(),
              ElementsAre(HasSubstr("member=eve code=PERMISSION_DENIED"),
                          HasSubstr("GetGait member=\"\" code=UNAUTHENTICATED"),
                          HasSubstr("member=\"\" code=UNAUTHENTICATED")));
}

TEST_F(GatekeeperTest, RefusesAnotherCertificateThanTheListNames) {
  const Peer old = PeerOf("kim");
  lab_.Run("member", "kim planner");
  const auto members = MemberList::Open(lab_.File("server/members"), log_.log());
  Gatekeeper gatekeeper(members->get(), &calls_, kMostCalls, log_.log());
  EXPECT_THAT(gatekeeper.Judge(kGet, old, absl::Now()),
              Refuses(StatusCode::PERMISSION_DENIED, "this certificate of his does not count"));
  EXPECT_TRUE(gatekeeper.Judge(kGet, PeerOf("kim"), absl::Now()).ok());
}

TEST_F(GatekeeperTest, RefusesACertificateThatEndsDuringAConnection) {
  lab_.Run("member", "kim planner --days 2");
  const auto members = MemberList::Open(lab_.File("server/members"), log_.log());
  Gatekeeper gatekeeper(members->get(), &calls_, kMostCalls, log_.log());
  const Peer peer = PeerOf("kim");
  EXPECT_TRUE(gatekeeper.Judge(kGet, peer, absl::Now() + absl::Hours(47)).ok());
  EXPECT_THAT(gatekeeper.Judge(kGet, peer, absl::Now() + absl::Hours(49)),
              Refuses(StatusCode::UNAUTHENTICATED, "does not hold now, but from"));
  EXPECT_THAT(gatekeeper.Judge(kGet, peer, absl::Now() - absl::Hours(1)),
              Refuses(StatusCode::UNAUTHENTICATED, "does not hold now"));
  EXPECT_THAT(gatekeeper.Judge(kGet, Peer({"gaitshelf:member/kim"}), absl::Now()),
              Refuses(StatusCode::UNAUTHENTICATED, "does not hold now"));
}

TEST_F(GatekeeperTest, RefusesMoreCallsThanOneMemberMayHave) {
  for (int i = 0; i < kMostCalls; ++i) {
    EXPECT_TRUE(Judge(kGet, PeerOf("ben")).ok());
    calls_.Begin("ben");
  }
  EXPECT_THAT(Judge(kGet, PeerOf("ben")),
              Refuses(StatusCode::RESOURCE_EXHAUSTED, "3 calls of ben are under way already"));
  EXPECT_TRUE(Judge(kGet, PeerOf("kim")).ok());
  calls_.End("ben");
  EXPECT_TRUE(Judge(kGet, PeerOf("ben")).ok());
}

TEST_F(GatekeeperTest, KeepsTheLogOfAStormShort) {
  for (int i = 0; i < 1000; ++i) {
    EXPECT_FALSE(Judge(kOrder, PeerOf("ben")).ok());
  }
  // 20 a second, and the storm takes a few seconds at most.
  EXPECT_LT(log_.lines().size(), 500U);
}

}  // namespace
}  // namespace gaitshelf::service
