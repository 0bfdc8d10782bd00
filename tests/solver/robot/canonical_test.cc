#include "solver/robot/canonical.h"

#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "gaitshelf/v1/gait.pb.h"
#include "gaitshelf/v1/surface.pb.h"

namespace gaitshelf::solver {
namespace {

// FIPS 180-4 defines SHA-256; the digests of "abc" and of the 56-byte message are the examples that
// NIST publishes with it (Cryptographic Standards and Guidelines, example values, SHA256).
TEST(Sha256Test, AgreesWithThePublishedExamples) {
  EXPECT_EQ(Sha256Hex("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(Sha256Hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
}

// Bits by IEEE 754: 0.5 = 2^-1 has exponent 1022 = 0x3fe; 1.25 = 1.01b has 1023 and 0.25 * 2^52.
TEST(CanonicalTextTest, WritesNumbersByTheirBitsUnderTheirFieldNumbers) {
  v1::Surface surface;
  surface.set_name("felt");
  surface.set_slope_rad(1.25);
  surface.set_friction_coefficient(0.5);
  surface.set_friction_method(v1::FRICTION_METHOD_SLED);
  EXPECT_EQ(CanonicalText(surface, {}),
            "1=\"felt\"\n3=3fe0000000000000\n5=3ff4000000000000\n6=2\n");
  EXPECT_EQ(CanonicalText(surface, {"name"}), "3=3fe0000000000000\n5=3ff4000000000000\n6=2\n");
}

TEST(CanonicalTextTest, TellsAPresentPartFromAnAbsentOne) {
  v1::Gait gait;
  EXPECT_EQ(CanonicalText(gait, {}), "");
  gait.mutable_task()->mutable_hop();
  EXPECT_EQ(CanonicalText(gait, {}), "7{\n7.2{\n");
}

TEST(CanonicalTextTest, KeepsEveryElementOfAnArray) {
  v1::Gait gait;
  gait.add_leg_names("a");
  gait.add_leg_names("");
  gait.add_voltage_v(0.0);
  gait.add_voltage_v(-0.0);
  gait.set_is_periodic(true);
  EXPECT_EQ(CanonicalText(gait, {}),
            "9=1\n12[0]=\"a\"\n12[1]=\"\"\n17[0]=0000000000000000\n17[1]=0000000000000000\n");
}

TEST(CanonicalTextTest, TakesNegativeZeroAndAWrittenZeroAsLeftOut) {
  v1::Surface surface;
  surface.set_friction_coefficient(0.0);
  surface.set_slope_rad(-0.0);
  EXPECT_EQ(CanonicalText(surface, {}), "");
}

TEST(CanonicalTextTest, CannotBeForgedByText) {
  v1::Surface surface;
  surface.set_name("a\"\n3=3fe0000000000000");
  EXPECT_EQ(CanonicalText(surface, {}), "1=\"a\\\"\\n3=3fe0000000000000\"\n");
}

}  // namespace
}  // namespace gaitshelf::solver
