// What these verbs do once their flags are read is tested in tests/clients/python and
// tests/end_to_end.
//
// Covers clients/cli/python_verbs.cc
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "clients/cli/exit_code.h"
#include "tests/clients/cli/scripted_server.h"

namespace gaitshelf::client {
namespace {

using testing::AllOf;
using testing::HasSubstr;

class PythonVerbsTest : public ScriptedServer {};

TEST_F(PythonVerbsTest, ReportEveryFaultOfTheirFlags) {
  EXPECT_EQ(Run({"sweep",
                 "--robot",
                 "weevil",
                 "--surface",
                 "felt",
                 "--frequency",
                 "12",
                 "--advance",
                 "9mm:1mm:1mm"}),
            kExitUsage);
  EXPECT_THAT(err_,
              AllOf(HasSubstr("--frequency: '12' has no unit"),
                    HasSubstr("--advance: '9mm:1mm:1mm' is no range")));
  EXPECT_EQ(Run({"plot", "hats", "g-1", "-o", "a.png"}), kExitUsage);
  EXPECT_THAT(err_, HasSubstr("'hats' is no choice; use footfalls, legs, forces"));
  EXPECT_EQ(Run({"plot", "legs", "g-1"}), kExitUsage);
  EXPECT_THAT(err_, HasSubstr("--out FILE is missing"));
}

}  // namespace
}  // namespace gaitshelf::client
