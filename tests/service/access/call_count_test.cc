// That gRPC has calls counted is seen in tests/end_to_end/access_test.py.
#include "service/access/call_count.h"

#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

TEST(CallCountTest, CountsEachMemberByItself) {
  CallCount count;
  EXPECT_EQ(count.Of("ada"), 0);
  count.Begin("ada");
  count.Begin("ada");
  count.Begin("ben");
  EXPECT_EQ(count.Of("ada"), 2);
  count.End("ada");
  count.End("ben");
  count.End("ben");  // one too many does no harm
  EXPECT_EQ(count.Of("ada"), 1);
  EXPECT_EQ(count.Of("ben"), 0);
}

}  // namespace
}  // namespace gaitshelf::service
