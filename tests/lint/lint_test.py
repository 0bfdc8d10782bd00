#!/usr/bin/python3
"""Plants faults in small trees and checks that each lint finds them, and nothing in a good tree."""
import pathlib
import shutil
import sys
import tempfile
import unittest

import format_lint
import include_lint
import proto_lint
import size_lint
import twin_lint

ROOT = pathlib.Path(__file__).resolve().parents[2]

PROTO = '''syntax = "proto3";

package gaitshelf.v1;

// Tells how hot it is.
service HeatService {
  // Returns the heat.
  rpc MeasureHeat(MeasureHeatRequest) returns (MeasureHeatResponse);
}

// Asks for the heat.
message MeasureHeatRequest {
  // Says where.
  HeatPlace place = 1;
}

// Holds the heat.
message MeasureHeatResponse {
  // Heat, J.
  double heat_j = 1;
}

// Says where.
enum HeatPlace {
  // Not stated.
  HEAT_PLACE_UNSPECIFIED = 0;
  // Inside.
  HEAT_PLACE_INSIDE = 1;
}
'''


class LintTest(unittest.TestCase):
    def setUp(self):
        self.root = pathlib.Path(tempfile.mkdtemp(prefix="gaitshelf-lint-"))
        self.addCleanup(shutil.rmtree, self.root)

    def plant(self, path, text):
        target = self.root / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text)

    def expect(self, lint, *faults):
        """Expects as many faults as patterns, and each pattern in one of them."""
        found = lint.check(self.root)
        self.assertEqual(len(found), len(faults), found)
        for fault in faults:
            self.assertTrue(any(fault in line for line in found), f"{fault} not in {found}")


class FormatLintTest(LintTest):
    def setUp(self):
        super().setUp()
        shutil.copy(ROOT / ".clang-format", self.root)

    def test_accepts_formatted_text(self):
        self.plant("solver/leg/a.cc", "int Sum(int a, int b) { return a + b; }\n")
        self.expect(format_lint)

    def test_finds_a_wrong_space(self):
        self.plant("solver/leg/a.cc", "int Sum(int a,int b) { return a + b; }\n")
        self.plant("solver/leg/b.cc", "int two = 2;\n")
        self.expect(format_lint, "solver/leg/a.cc:1: not formatted")

    def test_does_not_pass_over_nothing(self):
        self.expect(format_lint, "no C++ files")


class IncludeLintTest(LintTest):
    def test_accepts_the_arrows_of_the_house(self):
        self.plant("solver/plan/a.cc",
                   '#include <vector>\n#include <ceres/solver.h>\n#include <Eigen/Core>\n'
                   '#include "gaitshelf/v1/gait.pb.h"\n#include "solver/leg/robot_model.h"\n'
                   '#include "solver/plan/a.h"\n#include "absl/status/status.h"\n')
        self.plant("service/library/a.h", '#include "gaitshelf/v1/library_service.pb.h"\n#include <sqlite3.h>\n')
        self.plant("service/jobs/worker_main.cc", '#include "solver/plan/plan_gait.h"\n')
        self.plant("service/api/a.cc",
                   '#include <grpcpp/grpcpp.h>\n#include "solver/robot/check.h"\n'
                   '#include "service/library/library.h"\n')
        self.plant("clients/cli/a.cc",
                   '#include <sys/ioctl.h>\n#include "gaitshelf/v1/job_service.grpc.pb.h"\n')
        self.expect(include_lint)

    def test_finds_each_wrong_arrow(self):
        for path, header in [
                ("solver/leg/a.cc", "service/library/library.h"),
                ("solver/leg/a.cc", "solver/contact/complementarity.h"),
                ("solver/plan/a.cc", "solver/replay/audit_gait.h"),
                ("solver/leg/a.cc", "ceres/solver.h"),
                ("solver/robot/a.h", "grpcpp/grpcpp.h"),
                ("solver/robot/a.h", "gaitshelf/v1/job_service.pb.h"),
                ("solver/robot/a.h", "sqlite3.h"),
                ("solver/robot/a.h", "unistd.h"),
                ("service/library/a.cc", "gaitshelf/v1/library_service.grpc.pb.h"),
                ("service/library/a.cc", "service/api/a.h"),
                ("service/library/a.cc", "solver/plan/plan_gait.h"),
                ("service/jobs/dispatcher.cc", "solver/plan/plan_gait.h"),
                ("service/jobs/worker_process.cc", "solver/plan/plan_gait.h"),
                ("service/jobs/dispatcher.cc", "sqlite3.h"),
                ("service/playback/a.cc", "service/jobs/a.h"),
                ("service/api/a.cc", "solver/plan/plan_gait.h"),
                ("clients/cli/a.cc", "service/library/library.h"),
                ("clients/cli/a.cc", "solver/robot/check.h")]:
            with self.subTest(path=path, header=header):
                self.plant(path, f'// First line.\n#include "{header}"\n')
                self.expect(include_lint, f"{path}:2: {pathlib.Path(path).parent}/ may not include {header}")
                (self.root / path).unlink()

    def test_finds_a_room_without_a_rule(self):
        self.plant("solver/attic/a.cc", "")
        self.expect(include_lint, "solver/attic/a.cc: no rule")


class SizeLintTest(LintTest):
    def test_finds_one_line_too_many(self):
        self.plant("solver/leg/a.cc", "\n" * size_lint.LIMIT)
        self.plant("solver/leg/b.cc", "\n" * (size_lint.LIMIT + 1))
        self.expect(size_lint, f"solver/leg/b.cc: {size_lint.LIMIT + 1} lines")


class TwinLintTest(LintTest):
    def setUp(self):
        super().setUp()
        for path in ("solver/leg/a.cc", "tests/solver/leg/a_test.cc", "service/api/server_main.cc"):
            self.plant(path, "")

    def test_accepts_twins_and_main_files(self):
        self.expect(twin_lint)

    def test_finds_a_source_without_its_test(self):
        self.plant("clients/cli/b.cc", "")
        self.plant("tests/clients/b_test.cc", "")
        self.expect(twin_lint, "clients/cli/b.cc: has no test tests/clients/cli/b_test.cc")

    def test_accepts_a_source_that_another_test_covers(self):
        for path in ("clients/cli/b.cc", "clients/cli/c.cc"):
            self.plant(path, "")
        self.plant("tests/solver/leg/a_test.cc", "// All.\n// Covers clients/cli/b.cc\nint a;\n")
        self.plant("tests/end_to_end/all_test.py", '"""All.\n\nCovers clients/cli/c.cc.\n"""\n')
        self.expect(twin_lint)

    def test_finds_a_cover_without_a_source(self):
        self.plant("tests/solver/leg/a_test.cc", "// Covers solver/leg/gone.cc\n")
        self.expect(twin_lint, "tests/solver/leg/a_test.cc: covers solver/leg/gone.cc, which does not exist")


class ProtoLintTest(LintTest):
    PATH = "proto/gaitshelf/v1/heat.proto"

    def test_accepts_a_good_file(self):
        self.plant(self.PATH, PROTO)
        self.expect(proto_lint)

    def test_finds_each_fault(self):
        for old, new, fault in [
                ("  // Heat, J.\n", "", "heat_j: has no comment"),
                ("// Holds the heat.\n", "", "MeasureHeatResponse: has no comment"),
                ("  // Inside.\n", "", "HEAT_PLACE_INSIDE: has no comment"),
                ("  // Returns the heat.\n", "", "HeatService.MeasureHeat: has no comment"),
                ("heat_j", "heat", "without a unit"),
                ("heat_j", "heat_calorie", "without a unit"),
                ("heat_j", "Heat_j", "wrong case"),
                ("double heat_j", "float heat_j", "float; use double"),
                ("double heat_j", "uint32 heat_count", "unsigned type"),
                ("HEAT_PLACE_INSIDE", "INSIDE", "must start with HEAT_PLACE_"),
                ("HEAT_PLACE_UNSPECIFIED", "HEAT_PLACE_ANY", "value 0 must be"),
                ("HeatService", "Heats", "must end in Service"),
                ("MeasureHeatRequest", "HeatAsked", "request is not MeasureHeatRequest"),
                ("MeasureHeatResponse", "HeatAnswer", "response is not MeasureHeatResponse"),
                ("HeatPlace place", "heatPlace place", "\"heatPlace\" is not defined")]:
            with self.subTest(old=old, new=new):
                self.plant(self.PATH, PROTO.replace(old, new))
                found = proto_lint.check(self.root)
                self.assertTrue(any(fault in line for line in found), found)

    def test_finds_a_wrong_folder_and_a_package_without_version(self):
        self.plant("proto/gaitshelf/v1/heat.proto", PROTO.replace("gaitshelf.v1", "gaitshelf.heat"))
        found = proto_lint.check(self.root)
        self.assertTrue(any("folder does not match" in line for line in found), found)
        self.assertTrue(any("has no version" in line for line in found), found)

    def test_does_not_pass_over_nothing(self):
        self.expect(proto_lint, "no protobuf files")


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[1:]])
