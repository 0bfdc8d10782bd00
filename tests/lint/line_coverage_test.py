#!/usr/bin/python3
"""Compiles and runs a small program, and looks whether deploy/line_coverage.py tells which of its lines ran."""
import contextlib
import io
import pathlib
import shutil
import subprocess
import sys
import tempfile
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "deploy"))
import line_coverage  # noqa: E402  (its folder is known only now)

HEADER = """template <typename T>
T Twice(T x) {
  return x + x;
}
"""
USED = """#include "solver/leg/twice.h"
int Sign(int x) {
  if (x < 0) {
    return -1;
  }
  return Twice(1) - static_cast<int>(Twice(0.5));
}
"""
UNUSED = """#include "solver/leg/twice.h"
namespace plan {
namespace {
long Idle(long x) {
  return Twice(x);
}
}  // namespace
long Use() {
  return [] { return Idle(1); }();
}
}  // namespace plan
"""
MAIN = """int Sign(int x);
int main() {
  return Sign(3) - 1;
}
"""


class LineCoverageTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.root = pathlib.Path(tempfile.mkdtemp(prefix="gaitshelf-coverage-")).resolve()
        cls.addClassCleanup(shutil.rmtree, cls.root)
        texts = {"solver/leg/twice.h": HEADER, "solver/leg/used.cc": USED, "solver/plan/unused.cc": UNUSED,
                 "tests/main.cc": MAIN}
        for path, text in texts.items():
            (cls.root / path).parent.mkdir(parents=True, exist_ok=True)
            (cls.root / path).write_text(text, encoding="utf-8")
        cls.build = cls.root / ".build"
        cls.build.mkdir()
        objects = []
        for path in texts:
            if path.endswith(".cc"):
                objects.append(pathlib.Path(path).stem + ".o")
                cls.run_in_build("g++", "--coverage", "-I..", "-c", f"../{path}", "-o", objects[-1])
        cls.run_in_build("g++", "--coverage", *objects, "-o", "program")
        cls.run_in_build("./program")
        cls.counts = line_coverage.count(line_coverage.reports(cls.build), cls.root)

    @classmethod
    def run_in_build(cls, *command):
        subprocess.run(command, cwd=cls.build, check=True)

    def test_counts_lines_of_each_room_and_of_no_test(self):
        self.assertEqual(line_coverage.room_rows(self.counts),
                         [("solver/leg", 5, 6), ("solver/plan", 0, 4), ("all", 5, 10)])

    def test_names_what_never_ran(self):
        self.assertEqual(line_coverage.never_run(self.counts), ["solver/plan/unused.cc: 4 Idle, 8 Use, 9 a lambda"])

    def test_refuses_a_folder_without_counts(self):
        empty = self.root / "empty"
        empty.mkdir()
        for words in ([], ["nowhere"], [str(empty)]):
            told = io.StringIO()
            with self.subTest(words=words), contextlib.redirect_stderr(told):
                self.assertEqual(line_coverage.main(words), 2)
                self.assertIn("deploy", told.getvalue())


if __name__ == "__main__":
    unittest.main()
