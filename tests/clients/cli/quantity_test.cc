#include "clients/cli/quantity.h"

#include <cmath>
#include <string>

#include "tests/support/status_matchers.h"

namespace gaitshelf::client {
namespace {

using test::HasStatus;
using test::IsOk;
using testing::AllOf;
using testing::HasSubstr;

// SI prefixes: m = 1e-3, u = 1e-6, k = 1e3; a turn of 180 deg is pi rad. Source: the International
// System of Units, 9th edition, tables 7 and 8.
TEST(QuantityTest, ReadsEveryUnit) {
  EXPECT_EQ(*ParseQuantity("2m", Dimension::kLength), 2.0);
  EXPECT_EQ(*ParseQuantity("9mm", Dimension::kLength), 0.009);
  EXPECT_EQ(*ParseQuantity("350um", Dimension::kLength), 350e-6);
  EXPECT_EQ(*ParseQuantity("12Hz", Dimension::kFrequency), 12.0);
  EXPECT_EQ(*ParseQuantity("1.5kHz", Dimension::kFrequency), 1500.0);
  EXPECT_EQ(*ParseQuantity("3s", Dimension::kTime), 3.0);
  EXPECT_EQ(*ParseQuantity("2.5ms", Dimension::kTime), 0.0025);
  EXPECT_DOUBLE_EQ(*ParseQuantity("180deg", Dimension::kAngle), M_PI);
  EXPECT_EQ(*ParseQuantity("0.1rad", Dimension::kAngle), 0.1);
  EXPECT_EQ(*ParseQuantity("100V", Dimension::kVoltage), 100.0);
}

TEST(QuantityTest, ReadsSignExponentAndBlanks) {
  EXPECT_EQ(*ParseQuantity("-9mm", Dimension::kLength), -0.009);
  EXPECT_EQ(*ParseQuantity("+9 mm", Dimension::kLength), 0.009);
  EXPECT_EQ(*ParseQuantity("9e-3m", Dimension::kLength), 0.009);
  EXPECT_EQ(*ParseQuantity("0.9e1mm", Dimension::kLength), 0.009);
}

// The library's key is exact: two ways to write one length must give one number, to the last bit.
TEST(QuantityTest, GivesTheSameNumberForEveryWayToWriteIt) {
  for (int tenths = 1; tenths <= 1000; ++tenths) {
    const std::string digits = std::to_string(tenths / 10) + "." + std::to_string(tenths % 10);
    const std::string in_mm = digits + "mm";
    const std::string in_m = digits + "e-3m";
    EXPECT_EQ(*ParseQuantity(in_mm, Dimension::kLength),
              std::strtod((digits + "e-3").c_str(), nullptr));
    EXPECT_EQ(*ParseQuantity(in_mm, Dimension::kLength), *ParseQuantity(in_m, Dimension::kLength));
  }
}

TEST(QuantityTest, RefusesANumberWithoutUnitAndSaysWhatToWrite) {
  EXPECT_THAT(ParseQuantity("12", Dimension::kFrequency),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("write 12Hz")));
  EXPECT_THAT(ParseQuantity("0.009", Dimension::kLength),
              HasStatus(absl::StatusCode::kInvalidArgument,
                        AllOf(HasSubstr("has no unit"), HasSubstr("mm, m, um"))));
}

TEST(QuantityTest, RefusesUnitsOfAnotherDimension) {
  EXPECT_THAT(ParseQuantity("9Hz", Dimension::kLength),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("takes mm, m, um")));
  EXPECT_THAT(ParseQuantity("9cm", Dimension::kLength),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("'cm'")));
  // Letters matter: mV is not MV.
  EXPECT_THAT(ParseQuantity("12hz", Dimension::kFrequency),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("'hz'")));
}

TEST(QuantityTest, RefusesWhatIsNoNumber) {
  for (const char* text : {"", "mm", "nanmm", "infmm", "1.2.3mm", "-", "e3m", "--9mm"}) {
    EXPECT_THAT(ParseQuantity(text, Dimension::kLength),
                HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("write")))
        << text;
  }
  EXPECT_THAT(ParseQuantity("1e999m", Dimension::kLength),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("too large")));
}

TEST(QuantitiesTest, ReadsListsAndRangesWithTheDoublesThatTheNumbersHave) {
  EXPECT_THAT(ParseQuantities("3Hz,12Hz,3Hz", Dimension::kFrequency).value(),
              testing::ElementsAre(3.0, 12.0));
  // Each is the double of its own text: equal ways must be one key of the library.
  EXPECT_THAT(ParseQuantities("8.7mm:9mm:0.1mm,12mm", Dimension::kLength).value(),
              testing::ElementsAre(0.0087, 0.0088, 0.0089, 0.009, 0.012));
  EXPECT_THAT(ParseQuantities("10Hz:5Hz:-2.5Hz", Dimension::kFrequency).value(),
              testing::ElementsAre(10.0, 7.5, 5.0));
  EXPECT_THAT(ParseQuantities("2Hz:2Hz:1Hz", Dimension::kFrequency).value(),
              testing::ElementsAre(2.0));
}

TEST(QuantitiesTest, RefusesRangesThatAreNone) {
  for (const char* text :
       {"2Hz:1Hz:1Hz", "1Hz:2Hz:0Hz", "1Hz:2Hz", "1Hz:9kHz:1Hz", "1Hz:2Hz:1:1"}) {
    EXPECT_FALSE(ParseQuantities(text, Dimension::kFrequency).ok()) << text;
  }
  EXPECT_THAT(ParseQuantities("3Hz,", Dimension::kFrequency),
              HasStatus(absl::StatusCode::kInvalidArgument, HasSubstr("write")));
}

}  // namespace
}  // namespace gaitshelf::client
