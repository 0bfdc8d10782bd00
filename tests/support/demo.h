// Robots and surfaces of deploy/demo, as tests read them.
#ifndef GAITSHELF_TESTS_SUPPORT_DEMO_H_
#define GAITSHELF_TESTS_SUPPORT_DEMO_H_

#include <fstream>
#include <sstream>
#include <string>

#include "gaitshelf/v1/robot.pb.h"
#include "gaitshelf/v1/surface.pb.h"

#include "tests/support/paths.h"
#include "tests/support/read_description.h"

namespace gaitshelf::test {

inline std::string ReadDemoFile(const std::string& name) {
  std::ifstream file(SourcePath("deploy/demo/" + name));
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

inline v1::Robot ReadDemoRobot(const std::string& name) {
  return test::ReadRobotText(ReadDemoFile(name + ".robot.textproto")).value();
}

inline v1::Surface ReadDemoSurface(const std::string& name) {
  return test::ReadSurfaceText(ReadDemoFile(name + ".surface.textproto")).value();
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_DEMO_H_
