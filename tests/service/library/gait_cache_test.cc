#include "service/library/gait_cache.h"

#include <memory>
#include <optional>
#include <string>

#include <gtest/gtest.h>

namespace gaitshelf::service {
namespace {

void Put(GaitCache* cache, const std::string& name, const std::string& body) {
  cache->Put(name,
             {.body = std::make_shared<const std::string>(body), .checksum = "sum of " + body});
}

// The body, when it is kept with its own checksum.
std::optional<std::string> Get(GaitCache* cache, const std::string& name) {
  const std::optional<KeptGait> kept = cache->Get(name);
  if (!kept.has_value()) {
    return std::nullopt;
  }
  EXPECT_EQ(kept->checksum, "sum of " + *kept->body);
  return *kept->body;
}

TEST(GaitCacheTest, KeepsTheLatestBodyOfAName) {
  GaitCache cache(100);
  EXPECT_EQ(Get(&cache, "g-1"), std::nullopt);
  Put(&cache, "g-1", "old");
  Put(&cache, "g-1", "new");
  EXPECT_EQ(Get(&cache, "g-1"), "new");
}

TEST(GaitCacheTest, DropsWhatWasNotUsedForLongest) {
  GaitCache cache(10);
  Put(&cache, "a", "1234");
  Put(&cache, "b", "1234");
  EXPECT_EQ(Get(&cache, "a"), "1234");
  Put(&cache, "c", "1234");
  EXPECT_EQ(Get(&cache, "b"), std::nullopt);
  EXPECT_EQ(Get(&cache, "a"), "1234");
  EXPECT_EQ(Get(&cache, "c"), "1234");
}

TEST(GaitCacheTest, FillsItsRoomWithoutDroppingWhatWasUsed) {
  GaitCache cache(10);
  const auto put_if_room = [&cache](const std::string& name, const std::string& body) {
    return cache.PutIfRoom(
        name, {.body = std::make_shared<const std::string>(body), .checksum = "sum of " + body});
  };
  Put(&cache, "a", "1234");
  EXPECT_TRUE(put_if_room("b", "1234"));
  EXPECT_FALSE(put_if_room("c", "123"));
  EXPECT_TRUE(put_if_room("a", "older"));  // what is there stays
  EXPECT_EQ(Get(&cache, "a"), "1234");
  EXPECT_TRUE(cache.Has("b"));
  EXPECT_FALSE(cache.Has("c"));
  EXPECT_EQ(cache.filling().gait_count, 2U);
  EXPECT_EQ(cache.filling().byte_count, 8U);
  Put(&cache, "d", "1234");
  EXPECT_FALSE(cache.Has("b"));  // it was never used
  EXPECT_EQ(Get(&cache, "a"), "1234");
}

TEST(GaitCacheTest, KeepsNothingAboveItsLimit) {
  GaitCache cache(10);
  Put(&cache, "a", "1234");
  Put(&cache, "big", std::string(11, 'x'));
  EXPECT_EQ(Get(&cache, "big"), std::nullopt);
  EXPECT_EQ(Get(&cache, "a"), "1234");
  // A body that has grown too big takes the old one with it.
  Put(&cache, "a", std::string(11, 'x'));
  EXPECT_EQ(Get(&cache, "a"), std::nullopt);
  GaitCache none(0);
  Put(&none, "a", "1");
  EXPECT_EQ(Get(&none, "a"), std::nullopt);
}

}  // namespace
}  // namespace gaitshelf::service
