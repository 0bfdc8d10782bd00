// Writes the seeds of every fuzz target below a folder: invented descriptions and gaits, small,
// so that much of them is changed at a time. Usage: make_fuzz_seeds tests/fuzz/corpus
#include <filesystem>
#include <fstream>
#include <iostream>
#include <sstream>
#include <string>

#include <google/protobuf/text_format.h>

#include "tests/fuzz/input.pb.h"

#include "solver/robot/read.h"
#include "tests/fuzz/sample_gait.h"
#include "tests/support/paths.h"

namespace gaitshelf::fuzz {
namespace {

class Seeds {
 public:
  explicit Seeds(std::filesystem::path folder) : folder_(std::move(folder)) {}

  void Write(const std::string& target, const std::string& name, const std::string& bytes) const {
    std::filesystem::create_directories(folder_ / target);
    std::ofstream(folder_ / target / name, std::ios::binary) << bytes;
  }

 private:
  std::filesystem::path folder_;
};

std::string TextOf(const google::protobuf::Message& message) {
  std::string text;
  google::protobuf::TextFormat::PrintToString(message, &text);
  return text;
}

// A robot of the demonstration with its first leg only.
v1::Robot OneLegged(const std::string& file) {
  std::ifstream stream(test::SourcePath("deploy/demo/" + file));
  std::ostringstream text;
  text << stream.rdbuf();
  v1::Robot robot = solver::ReadRobotText(text.str()).value();
  robot.mutable_legs()->DeleteSubrange(1, robot.legs_size() - 1);
  return robot;
}

void WriteDescriptions(const Seeds& seeds) {
  seeds.Write("description_text", "quadruped", TextOf(test::MakeQuadruped()));
  seeds.Write("description_text", "hexapod-with-skid", TextOf(test::MakeHexapod()));
  seeds.Write("description_text", "one-linkage", TextOf(OneLegged("weevil.robot.textproto")));
  seeds.Write("description_text", "surface", TextOf(test::MakeSurface(0.5, 0.1)));
}

void WriteDigested(const Seeds& seeds) {
  Digested robot;
  *robot.mutable_robot() = OneLegged("weevil.robot.textproto");
  seeds.Write("digest", "one-linkage", robot.SerializeAsString());
  Digested surface;
  *surface.mutable_surface() = test::MakeSurface(0.5, 0.1);
  seeds.Write("digest", "surface", surface.SerializeAsString());
  Digested gait;
  *gait.mutable_gait() = SampleGait();
  seeds.Write("digest", "gait", gait.SerializeAsString());
  Digested order;
  *order.mutable_order() = OrderOf(SampleGait());
  seeds.Write("digest", "order", order.SerializeAsString());
}

}  // namespace
}  // namespace gaitshelf::fuzz

int main(int argc, char** argv) {
  if (argc != 2) {
    std::cerr << "usage: make_fuzz_seeds FOLDER\n";
    return 2;
  }
  const gaitshelf::fuzz::Seeds seeds(argv[1]);
  gaitshelf::fuzz::WriteDescriptions(seeds);
  gaitshelf::fuzz::WriteDigested(seeds);
  return 0;
}
