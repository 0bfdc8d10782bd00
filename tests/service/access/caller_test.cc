// What a real handshake and a real call give is tested in tests/end_to_end/access_test.py.
#include "service/access/caller.h"

#include <gtest/gtest.h>

#include "tests/service/access/peer.h"

namespace gaitshelf::service {
namespace {

using test::Peer;

TEST(CallerTest, AMemberIsNamedByTheUriOfHisCertificate) {
  EXPECT_EQ(MemberOf(Peer({"https://lab.example/ada", "gaitshelf:member/ada"})), "ada");
}

TEST(CallerTest, ACertificateWithoutOrWithTwoNamesNamesNobody) {
  EXPECT_EQ(MemberOf(Peer({})), "");
  EXPECT_EQ(MemberOf(Peer({"https://lab.example/ada"})), "");
  EXPECT_EQ(MemberOf(Peer({"gaitshelf:member/ada", "gaitshelf:member/bob"})), "");
}

}  // namespace
}  // namespace gaitshelf::service
