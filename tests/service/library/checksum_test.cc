#include "service/library/checksum.h"

#include <gtest/gtest.h>

#include "absl/strings/escaping.h"
#include "tests/support/status_matchers.h"

namespace gaitshelf::service {
namespace {

// Source: FIPS 180-4 example for SHA-256, message "abc" (NIST, Examples with Intermediate Values);
// the empty message's digest is in the NIST test vectors for SHA-256 (length 0).
TEST(ChecksumTest, AgreesWithPublishedDigests) {
  const auto of_abc = Sha256("abc");
  ASSERT_THAT(of_abc, test::IsOk());
  EXPECT_EQ(absl::BytesToHexString(*of_abc),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(absl::BytesToHexString(*Sha256("")),
            "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST(ChecksumTest, TakesBytesInPieces) {
  Sha256Sum sum;
  sum.Add("a");
  EXPECT_EQ(*sum.Value(), *Sha256("a"));
  sum.Add("");
  sum.Add("bc");
  EXPECT_EQ(*sum.Value(), *Sha256("abc"));
}

}  // namespace
}  // namespace gaitshelf::service
