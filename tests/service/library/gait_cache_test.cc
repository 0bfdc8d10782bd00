#include "service/library/gait_cache.h"

#include <string>

#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

TEST(GaitCacheTest, KeepsTheLatestBodyOfAName) {
  GaitCache cache(100);
  EXPECT_EQ(cache.Get("g-1"), std::nullopt);
  cache.Put("g-1", "old");
  cache.Put("g-1", "new");
  EXPECT_EQ(cache.Get("g-1"), "new");
}

TEST(GaitCacheTest, DropsWhatWasNotUsedForLongest) {
  GaitCache cache(10);
  cache.Put("a", "1234");
  cache.Put("b", "1234");
  EXPECT_EQ(cache.Get("a"), "1234");
  cache.Put("c", "1234");
  EXPECT_EQ(cache.Get("b"), std::nullopt);
  EXPECT_EQ(cache.Get("a"), "1234");
  EXPECT_EQ(cache.Get("c"), "1234");
}

TEST(GaitCacheTest, KeepsNothingAboveItsLimit) {
  GaitCache cache(10);
  cache.Put("a", "1234");
  cache.Put("big", std::string(11, 'x'));
  EXPECT_EQ(cache.Get("big"), std::nullopt);
  EXPECT_EQ(cache.Get("a"), "1234");
  // A body that has grown too big takes the old one with it.
  cache.Put("a", std::string(11, 'x'));
  EXPECT_EQ(cache.Get("a"), std::nullopt);
  GaitCache none(0);
  none.Put("a", "1");
  EXPECT_EQ(none.Get("a"), std::nullopt);
}

}  // namespace
}  // namespace gaitshelf::service
