// The text of a robot and of a surface, as ModelService reads it: read, checked, digested,
// written again and read back.
#include <cstddef>
#include <cstdint>
#include <string>

#include <google/protobuf/text_format.h>

#include "absl/status/statusor.h"
#include "solver/base/utf8.h"
#include "solver/robot/check.h"
#include "solver/robot/digest.h"
#include "solver/robot/plausible.h"
#include "solver/robot/text_reader.h"
#include "tests/fuzz/target.h"
#include "tests/support/read_description.h"

namespace gaitshelf::fuzz {
namespace {

std::string DigestOf(const v1::Robot& robot) { return solver::RobotDigest(robot); }
std::string DigestOf(const v1::Surface& surface) { return solver::SurfaceDigest(surface); }

// Return whether the description is fit for use.
bool Check(const v1::Robot& robot) {
  const bool is_fit = solver::CheckRobot(robot).empty();
  if (is_fit) {
    solver::RobotWarnings(robot);
  }
  return is_fit;
}

bool Check(const v1::Surface& surface) {
  const bool is_fit = solver::CheckSurface(surface).empty();
  if (is_fit) {
    solver::SurfaceWarnings(surface);
  }
  return is_fit;
}

template <typename Message>
void Try(const std::string& text, absl::StatusOr<Message> (*read)(const std::string&)) {
  const absl::StatusOr<Message> message = read(text);
  if (!message.ok()) {
    Require(!message.status().message().empty(), "what cannot be read is told why");
    Require(solver::IsUtf8(message.status().message()), "it is told in UTF-8");
    Message ignored;
    Require(solver::ReadText(text, &ignored).size() <= 21, "it is told in bounded words");
    return;
  }
  const bool is_fit = Check(*message);
  const std::string digest = DigestOf(*message);
  // What was read must be the same when protobuf's own writer has written it.
  std::string written;
  Require(google::protobuf::TextFormat::PrintToString(*message, &written), "it can be written");
  const absl::StatusOr<Message> again = read(written);
  Require(again.ok(), "what was written can be read: " + again.status().ToString());
  // One that is not fit may hold numbers that are written in one way only, such as -nan.
  Require(Check(*again) == is_fit, "it is as fit as before");
  Require(!is_fit || DigestOf(*again) == digest, "the digest outlives writing and reading");
}

}  // namespace
}  // namespace gaitshelf::fuzz

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t size) {
  const std::string text(reinterpret_cast<const char*>(bytes), size);
  gaitshelf::fuzz::Try(text, &gaitshelf::test::ReadRobotText);
  gaitshelf::fuzz::Try(text, &gaitshelf::test::ReadSurfaceText);
  return 0;
}
