#include "service/library/gait_loader.h"

#include <cstddef>
#include <memory>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "absl/strings/str_cat.h"
#include "service/library/sqlite_library.h"
#include "tests/service/library/library_contract.h"
#include "tests/support/log_lines.h"

namespace gaitshelf::service {
namespace {

using testing::ElementsAre;
using testing::EndsWith;

class GaitLoaderTest : public testing::Test {
 protected:
  void Store(const std::string& name) {
    ASSERT_THAT(library_->InsertGait(MakeStoredGait(name, v1::VERDICT_GOOD, 1.0), name),
                test::IsOk());
  }
  std::unique_ptr<Library> Open(std::size_t gait_cache_bytes) {
    return OpenSqliteLibrary(folder_.File("library.db"), {.gait_cache_bytes = gait_cache_bytes})
        .value();
  }

  test::TemporaryFolder folder_;
  test::LogLines log_;
  std::unique_ptr<Library> library_ = Open(1 << 20);
};

TEST_F(GaitLoaderTest, TellsWhenMoreIsThere) {
  GaitLoader loader(library_.get(), log_.log());
  loader.Load();
  EXPECT_THAT(log_.lines(), ElementsAre());
  Store("g-1");
  Store("g-2");
  loader.Load();
  loader.Load();
  Store("g-3");
  loader.Load();
  const std::string mb = absl::StrCat(
      3.0 * static_cast<double>(MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0).ByteSizeLong()) /
      (1 << 20));
  EXPECT_THAT(
      log_.lines(),
      ElementsAre(testing::HasSubstr("level=info event=\"gaits are in memory\" gaits=2 mb="),
                  EndsWith("gaits=3 mb=" + mb)));
}

TEST_F(GaitLoaderTest, TellsWhenNotAllFit) {
  Store("g-1");
  Store("g-2");
  const auto small = Open(MakeStoredGait("g-1", v1::VERDICT_GOOD, 1.0).ByteSizeLong());
  GaitLoader loader(small.get(), log_.log());
  loader.Load();
  EXPECT_THAT(log_.text(), testing::HasSubstr("event=\"memory for gaits is full\" gaits=1"));
}

TEST_F(GaitLoaderTest, LoadsNothingOnceItIsStopped) {
  Store("g-1");
  GaitLoader loader(library_.get(), log_.log());
  loader.Stop();
  loader.Load();
  EXPECT_EQ(library_->LoadGaits([] { return true; })->gait_count, 0);
  EXPECT_THAT(log_.lines(), ElementsAre());
}

}  // namespace
}  // namespace gaitshelf::service
