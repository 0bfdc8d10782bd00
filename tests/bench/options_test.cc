#include "tests/bench/options.h"

#include <limits>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace gaitshelf::bench {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

struct Values {
  int orders = 300;
  int rng = 0;
  double seconds = 1.5;
  std::string json{};
  std::string by = "bench";
  std::vector<std::string> parts = {"growth", "shares"};
};

OptionReader ReaderOf(Values* values) {
  OptionReader reader("oracle");
  reader.Whole("--orders", {.least = 1}, &values->orders)
      .Whole("--rng", {.most = 2000}, &values->rng)
      .Number("--seconds", {.least = 0.5}, &values->seconds)
      .Choice("--by", {"bench", "gait"}, &values->by)
      .Choices("--parts", {"growth", "shares", "versus"}, &values->parts)
      .Text("--json", "FILE", &values->json);
  return reader;
}

// The text of what is wrong with the words.
std::string FaultsOf(const std::vector<std::string>& words) {
  Values values;
  const absl::Status status = ReaderOf(&values).Read(words);
  EXPECT_EQ(status.code(), absl::StatusCode::kInvalidArgument);
  return std::string(status.message());
}

TEST(OptionReaderTest, LeavesDefaultsOfWhatIsNotGiven) {
  Values values;
  ASSERT_TRUE(ReaderOf(&values).Read({"--rng", "7"}).ok());
  EXPECT_EQ(values.rng, 7);
  EXPECT_EQ(values.orders, 300);
  EXPECT_THAT(values.parts, ElementsAre("growth", "shares"));
}

TEST(OptionReaderTest, ReadsEveryKindOfValue) {
  Values values;
  ASSERT_TRUE(ReaderOf(&values)
                  .Read({"--orders",
                         "12",
                         "--seconds",
                         "2e1",
                         "--by",
                         "gait",
                         "--parts",
                         "versus,growth",
                         "--json",
                         "a b.json"})
                  .ok());
  EXPECT_EQ(values.orders, 12);
  EXPECT_EQ(values.seconds, 20.0);
  EXPECT_EQ(values.by, "gait");
  EXPECT_THAT(values.parts, ElementsAre("versus", "growth"));
  EXPECT_EQ(values.json, "a b.json");
}

TEST(OptionReaderTest, TakesTheEndsOfARange) {
  Values values;
  EXPECT_TRUE(ReaderOf(&values).Read({"--orders", "1", "--rng", "2000", "--seconds", "0.5"}).ok());
}

TEST(OptionReaderTest, RefusesAnUnknownOptionAndNamesThoseThatThereAre) {
  EXPECT_EQ(FaultsOf({"--ordres", "12"}),
            "'--ordres' is not an option; use --orders, --rng, --seconds, --by, --parts, --json");
}

TEST(OptionReaderTest, RefusesAWordThatIsNoOption) {
  EXPECT_THAT(FaultsOf({"12"}), HasSubstr("'12' is not an option"));
}

TEST(OptionReaderTest, RefusesAnOptionWithoutAValue) {
  EXPECT_EQ(FaultsOf({"--orders"}), "--orders has no value; use a whole number of 1 or more");
  EXPECT_EQ(FaultsOf({"--json", "--rng", "1"}), "--json has no value; use a FILE");
}

TEST(OptionReaderTest, RefusesWhatIsNoWholeNumberOrOutOfRange) {
  for (const char* value : {"0", "-3", "1.5", "many", "", "99999999999"}) {
    EXPECT_EQ(FaultsOf({"--orders", value}),
              "--orders is '" + std::string(value) + "'; use a whole number of 1 or more");
  }
  EXPECT_EQ(FaultsOf({"--rng", "2001"}), "--rng is '2001'; use a whole number from 0 to 2000");
}

TEST(OptionReaderTest, RefusesWhatIsNoFiniteNumberOrOutOfRange) {
  for (const char* value : {"0.4", "nan", "inf", "soon", "-1"}) {
    EXPECT_EQ(FaultsOf({"--seconds", value}),
              "--seconds is '" + std::string(value) + "'; use a number of 0.5 or more");
  }
}

TEST(OptionReaderTest, RefusesWhatIsNoneOfTheChoices) {
  EXPECT_EQ(FaultsOf({"--by", "hand"}), "--by is 'hand'; use bench or gait");
  EXPECT_EQ(FaultsOf({"--parts", "growth,weight"}),
            "--parts is 'growth,weight'; use growth, shares or versus, or more of them with commas "
            "between");
}

TEST(OptionReaderTest, TellsAllFaultsAtOnce) {
  EXPECT_EQ(FaultsOf({"--orders", "no", "--rng", "5", "--by", "hand"}),
            "--orders is 'no'; use a whole number of 1 or more\n--by is 'hand'; use bench or gait");
}

TEST(OptionReaderTest, SaysHowItIsUsed) {
  Values values;
  EXPECT_EQ(ReaderOf(&values).Usage(),
            "usage: oracle [--orders N] [--rng N] [--seconds X] [--by bench|gait] "
            "[--parts growth,shares,versus] [--json FILE]");
}

}  // namespace
}  // namespace gaitshelf::bench
