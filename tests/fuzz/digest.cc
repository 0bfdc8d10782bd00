// Digests of messages that nobody has checked: they come out for any message, and the same for the
// same content however it is written.
#include "solver/robot/digest.h"

#include <string>

#include "tests/fuzz/input.pb.h"

#include "tests/fuzz/target.h"

namespace gaitshelf::fuzz {
namespace {

std::string DigestOf(const Digested& digested) {
  switch (digested.content_case()) {
    case Digested::kRobot:
      return solver::RobotDigest(digested.robot());
    case Digested::kSurface:
      return solver::SurfaceDigest(digested.surface());
    case Digested::kGait:
      return solver::GaitName(digested.gait());
    case Digested::kOrder:
      return solver::OrderKey("robot", "surface", digested.order());
    default:
      return "none";
  }
}

// Changes what is no part of the content.
void Rename(Digested* digested) {
  switch (digested->content_case()) {
    case Digested::kRobot:
      digested->mutable_robot()->set_name("other");
      digested->mutable_robot()->set_title("another title");
      break;
    case Digested::kSurface:
      digested->mutable_surface()->set_name("other");
      digested->mutable_surface()->set_title("another title");
      break;
    case Digested::kGait:
      digested->mutable_gait()->set_name("other");
      digested->mutable_gait()->mutable_audit()->add_reasons("another reason");
      digested->mutable_gait()->mutable_report()->set_solve_s(1.0);
      break;
    default:
      break;
  }
}

// Merging a message into an empty one goes over its fields by another way than decoding does.
Digested Rebuilt(const Digested& digested) {
  Digested rebuilt;
  rebuilt.MergeFrom(digested);
  rebuilt.DiscardUnknownFields();
  return rebuilt;
}

void Try(const Digested& digested) {
  const std::string digest = DigestOf(digested);
  Digested decoded;
  Require(decoded.ParseFromString(digested.SerializeAsString()), "what was encoded is decoded");
  Require(DigestOf(decoded) == digest, "the digest outlives encoding and decoding");
  Require(DigestOf(Rebuilt(digested)) == digest, "fields of a newer program do not count");
  Rename(&decoded);
  Require(DigestOf(decoded) == digest, "names do not count");
}

}  // namespace
}  // namespace gaitshelf::fuzz

GAITSHELF_FUZZ_MESSAGE(gaitshelf::fuzz::Digested, gaitshelf::fuzz::Try);
