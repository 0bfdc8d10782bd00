#!/usr/bin/python3
"""Plants faults and looks whether deploy/static_checks.py joins files well and tells what the checkers find.

What needs clang-tidy and cppcheck is left out where they are not installed; deploy/check installs them.
"""
import pathlib
import shutil
import sys
import tempfile
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "deploy"))
import static_checks  # noqa: E402  (its folder is known only now)

COMMAND = "/usr/bin/ccache /usr/bin/clang++-14 -DN=1 -I/r -isystem /a/b -g -Wall -Werror -o x.o -c {file}"
OPTIONS = ("-std=c++20", "-w")
FAULTY = '''namespace {
int Read(const int* p) { return *p; }
}  // namespace
int %s(bool b) {
  const int* p = nullptr;
  return b ? Read(p) : 1;
}
'''


class StaticChecksTest(unittest.TestCase):
    def setUp(self):
        self.root = pathlib.Path(tempfile.mkdtemp(prefix="gaitshelf-checks-"))
        self.addCleanup(shutil.rmtree, self.root)

    def plant(self, path, text=""):
        target = self.root / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, encoding="utf-8")
        return target

    def database(self, *files):
        return [{"file": str(file), "command": COMMAND.format(file=file)} for file in files]

    def test_leaves_files_and_warnings_out_of_a_command(self):
        self.assertEqual(static_checks.compiler_options(COMMAND.format(file="a.cc")),
                         ("-DN=1", "-I/r", "-isystem", "/a/b", "-g", "-w"))

    def test_finds_sources_by_file_folder_and_header(self):
        a = self.plant("solver/a.cc")
        b = self.plant("solver/room/b.cc", '#include "solver/room/only.h"\n')
        c = self.plant("service/c.cc")
        twin, only = self.plant("solver/a.h"), self.plant("solver/room/only.h")

        def found(*paths):
            return [file for file, _ in static_checks.sources(self.database(a, b, c), paths, self.root)]

        self.assertEqual(found(self.root / "solver"), [a, b])
        self.assertEqual(found(c, a), [c, a])
        self.assertEqual(found(twin), [a])
        self.assertEqual(found(only), [b])
        self.assertEqual(found(self.plant("solver/unused.h")), [])

    def test_joins_only_what_is_compiled_alike(self):
        alike = [(pathlib.Path(f"{i}.cc"), ("-I.",)) for i in range(static_checks.JOINED_FILES + 1)]
        other = (pathlib.Path("other.cc"), ("-DN",))
        self.assertEqual(static_checks.batches([*alike[:3], other, *alike[3:]]), [alike[:-1], alike[-1:], [other]])

    def test_keeps_the_lines_that_explain_a_finding(self):
        text = "noise\na.cc:1:2: error: bad [x]\n  code\nb.h:3:4: warning: worse [y]\nb.h:3:4: note: why\n"
        self.assertEqual(list(static_checks.findings(text)),
                         ["a.cc:1:2: error: bad [x]\n  code", "b.h:3:4: warning: worse [y]\nb.h:3:4: note: why"])
        self.assertEqual(list(static_checks.findings("")), [])

    @unittest.skipUnless(shutil.which("clang-tidy-14"), "clang-tidy is not installed")
    def test_looks_into_joined_files_as_into_each_alone(self):
        self.plant(".clang-tidy", "Checks: '-*,clang-analyzer-core.*,google-explicit-constructor'\n"
                                  "WarningsAsErrors: '*'\nHeaderFilterRegex: '/solver/'\n")
        self.plant("solver/h.h", "#pragma once\nstruct H { H(int i) : i(i) {} int i; };\n")
        # Both have a Read, so that they cannot be joined; the third goes with either.
        files = [self.plant("solver/a.cc", FAULTY % "A"), self.plant("solver/b.cc", FAULTY % "B"),
                 self.plant("solver/c.cc", '#include "solver/h.h"\n'
                                           "int C(bool b) { int* p = nullptr; return b ? *p : 1; }\n")]
        folder = self.root / "joined"
        folder.mkdir()
        found = static_checks.run_tidy(folder, [(file, (f"-I{self.root}", *OPTIONS)) for file in files], self.root)
        self.assertEqual(sorted(text.split(" error: ")[0] for text in found),
                         ["solver/a.cc:2:33:", "solver/b.cc:2:33:", "solver/c.cc:2:46:", "solver/h.h:2:12:"])

    @unittest.skipUnless(shutil.which("clang-tidy-14"), "clang-tidy is not installed")
    def test_tells_of_a_file_that_does_not_compile(self):
        found = static_checks.run_tidy(self.root, [(self.plant("solver/a.cc", "int x = y;\n"), OPTIONS)], self.root)
        self.assertEqual(len(found), 1)
        self.assertIn("solver/a.cc:1:9: error: use of undeclared identifier 'y'", found[0])

    @unittest.skipUnless(shutil.which("cppcheck"), "cppcheck is not installed")
    def test_tells_what_cppcheck_finds_unless_a_comment_says_why_not(self):
        fault = "int F() {\n%s  int a[2] = {0, 0};\n  return a[2];\n}\n"
        faulty = self.plant("solver/a.cc", fault % "")
        excused = self.plant("solver/b.cc", (fault % "").replace(
            "  return", "  // cppcheck-suppress arrayIndexOutOfBounds ; planted\n  return"))
        found = static_checks.run_cppcheck([(faulty, OPTIONS), (excused, OPTIONS)], self.root)
        self.assertEqual(len(found), 1)
        self.assertIn("solver/a.cc:3:11: error: ", found[0])
        self.assertIn("[cppcheck arrayIndexOutOfBounds]", found[0])


if __name__ == "__main__":
    unittest.main()
