// Robots of deploy/demo, as tests read them.
#ifndef GAITSHELF_TESTS_SUPPORT_DEMO_H_
#define GAITSHELF_TESTS_SUPPORT_DEMO_H_

#include <fstream>
#include <sstream>
#include <string>

#include "gaitshelf/v1/robot.pb.h"

#include "solver/robot/read.h"

namespace gaitshelf::test {

inline v1::Robot ReadDemoRobot(const std::string& name) {
  std::ifstream file(std::string(GAITSHELF_SOURCE_DIR "/deploy/demo/") + name + ".robot.textproto");
  std::ostringstream text;
  text << file.rdbuf();
  return solver::ReadRobotText(text.str()).value();
}

}  // namespace gaitshelf::test

#endif  // GAITSHELF_TESTS_SUPPORT_DEMO_H_
