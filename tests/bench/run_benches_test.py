#!/usr/bin/python3
"""Runs made-up benches: good ones, failing ones, ones that do not end; and looks at the list of the real ones."""
import io
import json
import os
import pathlib
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import unittest
from unittest import mock

import bench_list
import bench_process
import key_figures
import machine
import run_benches

HERE = pathlib.Path(__file__).resolve().parent
# What a made-up bench gets as $2 is the file of its report.
WRITE = 'echo "{\\"answer\\": 42}" > "$2"'


def shell(name, script, limit_s=30):
    words = ("/bin/sh", "-c", script, name)
    return bench_list.Bench(name, (), words, words, limit_s, limit_s)


def is_running(process):
    try:
        return pathlib.Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


class RunTest(unittest.TestCase):
    def setUp(self):
        self.root = pathlib.Path(tempfile.mkdtemp(prefix="gaitshelf-run-"))
        self.addCleanup(shutil.rmtree, self.root)
        self.stream = io.StringIO()

    def run_one(self, script, limit_s=30.0):
        return self.run_words(["/bin/sh", "-c", script, "made-up"], limit_s)

    def run_words(self, words, limit_s=30.0):
        return bench_process.run(bench_process.Task(
            name="made-up", place="[1/1]", words=words, limit_s=limit_s, root=self.root, folder=self.root,
            show=bench_process.Progress(self.stream)))


class BenchProcessTest(RunTest):
    def test_keeps_report_command_and_times(self):
        entry = self.run_one(WRITE)
        self.assertEqual(entry["problem"], "")
        self.assertEqual(entry["result"], {"answer": 42})
        self.assertEqual(entry["exit_code"], 0)
        self.assertTrue(entry["command"].endswith("made-up --json made-up.json"), entry["command"])
        self.assertGreaterEqual(entry["seconds"], 0.0)
        self.assertGreaterEqual(entry["processor_s"], 0.0)
        self.assertIn("[1/1] made-up: done", self.stream.getvalue())

    def test_says_that_a_bench_failed_and_what_it_said(self):
        entry = self.run_one("echo first; echo it broke >&2; exit 3")
        self.assertEqual((entry["problem"], entry["exit_code"]), ("ended with 3", 3))
        self.assertEqual(entry["output_end"], ["first", "it broke"])
        self.assertIsNone(entry["result"])

    def test_keeps_the_report_of_a_bench_that_failed_after_it(self):
        entry = self.run_one(WRITE + "; exit 1")
        self.assertEqual((entry["problem"], entry["result"]), ("ended with 1", {"answer": 42}))

    def test_does_not_take_an_old_report_for_a_new_one(self):
        self.run_one(WRITE)
        entry = self.run_one("true")
        self.assertIn("wrote no report", entry["problem"])
        self.assertIsNone(entry["result"])

    def test_says_that_a_report_is_no_json(self):
        self.assertIn("wrote no report", self.run_one('echo "{" > "$2"')["problem"])

    def test_says_that_a_program_is_not_there(self):
        entry = self.run_words(["/nowhere/bench"])
        self.assertEqual(entry["problem"], "did not start: No such file or directory")
        self.assertIsNone(entry["exit_code"])

    def test_ends_a_bench_at_its_limit_with_the_servers_that_it_started(self):
        entry = self.run_one(f"sleep 1000 & echo $! > {self.root}/server; wait", limit_s=0.5)
        self.assertEqual(entry["problem"], "met its limit of 0.5 s")
        self.assertEqual(entry["exit_code"], -signal.SIGTERM)
        server = int((self.root / "server").read_text())
        self.assertFalse(is_running(server))

    def test_kills_a_bench_that_does_not_listen(self):
        with mock.patch.object(bench_process, "GRACE_S", 0.3):
            entry = self.run_one("trap '' TERM; while true; do sleep 0.1; done", limit_s=0.3)
        self.assertEqual(entry["exit_code"], -signal.SIGKILL)

    def test_takes_away_what_a_bench_left_in_its_temporary_folder(self):
        self.run_one(f'echo "$TMPDIR" > {self.root}/where; touch "$TMPDIR/library"')
        folder = pathlib.Path((self.root / "where").read_text().strip())
        self.assertNotEqual(folder, pathlib.Path("."))
        self.assertFalse(folder.exists())

    def test_says_now_and_then_how_far_it_is_where_there_is_no_terminal(self):
        with mock.patch.object(bench_process, "LINE_S", 0.1):
            self.run_one("echo half way; sleep 0.7")
        self.assertRegex(self.stream.getvalue(), r"made-up: \d s of at most 30 s  half way")


class WholeRunTest(RunTest):
    """Runs `main` as a process of its own, with made-up benches instead of the real ones."""

    def start(self, benches, *words):
        text = (f"import pathlib, sys; sys.path.insert(0, {str(HERE)!r})\n"
                "import bench_list, machine, run_benches\nfrom bench_list import Bench\n"
                f"bench_list.BENCHES = {tuple(benches)!r}\n"
                f"machine.ROOT = pathlib.Path({str(self.root)!r})\n"
                "run_benches.build = lambda benches: None\n"
                f"sys.exit(run_benches.main({list(words)!r}))\n")
        return subprocess.Popen([sys.executable, "-B", "-c", text], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                                text=True, start_new_session=True)

    def run_all(self, benches, *words):
        process = self.start(benches, *words)
        output, error = process.communicate(timeout=60)
        return process.returncode, output, error

    def report(self):
        return json.loads((self.root / "report.json").read_text())

    def test_goes_on_after_a_failure_and_ends_with_1(self):
        code, output, _ = self.run_all([shell("bad", "exit 3"), shell("good", WRITE)],
                                       "--json", f"{self.root}/report.json", "--table", f"{self.root}/table.md")
        self.assertEqual(code, 1)
        report = self.report()
        self.assertEqual([entry["problem"] for entry in report["benches"]], ["ended with 3", ""])
        self.assertFalse(report["is_interrupted"])
        self.assertEqual(len(report["begin_load"]), 3)
        self.assertEqual(len(report["end_load"]), 3)
        self.assertGreater(report["machine"]["cores"], 0)
        self.assertGreater(report["machine"]["memory_gb"], 0)
        table = (self.root / "table.md").read_text()
        self.assertIn("not measured: ended with 3", table)
        self.assertIn(table, output)

    def test_ends_with_0_when_every_bench_is_good(self):
        code, _, error = self.run_all([shell("a", WRITE), shell("b", WRITE)], "--json", f"{self.root}/report.json",
                                      "--only", "b", "--quick")
        self.assertEqual(code, 0, error)
        self.assertEqual([entry["name"] for entry in self.report()["benches"]], ["b"])
        self.assertTrue(self.report()["is_quick"])

    def test_writes_what_it_has_when_it_is_interrupted(self):
        for number in (signal.SIGINT, signal.SIGTERM):
            process = self.start([shell("good", WRITE), shell("endless", f"touch {self.root}/began; sleep 1000"),
                                  shell("never", WRITE)], "--json", f"{self.root}/report.json")
            end_s = time.monotonic() + 60
            while not (self.root / "began").exists() and time.monotonic() < end_s:
                time.sleep(0.05)
            os.kill(process.pid, number)
            process.communicate(timeout=60)
            self.assertEqual(process.returncode, 130)
            self.assertEqual([(entry["name"], entry["problem"]) for entry in self.report()["benches"]],
                             [("good", ""), ("endless", "was interrupted")])
            self.assertTrue(self.report()["is_interrupted"])
            (self.root / "began").unlink()

    def test_says_at_once_that_a_file_cannot_be_written(self):
        code, _, error = self.run_all([shell("slow", "sleep 1000")], "--json", f"{self.root}/none/report.json")
        self.assertEqual(code, 1)
        self.assertIn("none/report.json: cannot be written: No such file or directory", error)

    def test_names_the_benches_that_there_are(self):
        code, _, error = self.run_all([shell("a", WRITE)], "--json", f"{self.root}/report.json", "--only", "a,c")
        self.assertEqual(code, 2)
        self.assertIn("--only has 'c'; use a", error)


class BenchListTest(unittest.TestCase):
    def test_limits_together_keep_to_that_of_the_whole_run(self):
        self.assertLessEqual(sum(bench.limit_s for bench in bench_list.BENCHES), bench_list.MOST_S)
        self.assertLessEqual(sum(bench.quick_limit_s for bench in bench_list.BENCHES), bench_list.MOST_S)

    def test_every_bench_has_a_name_of_its_own_and_its_figures(self):
        self.assertEqual([bench.name for bench in bench_list.BENCHES], list(key_figures.ROWS))

    def test_every_program_of_the_folder_is_run(self):
        text = (HERE / "CMakeLists.txt").read_text()
        programs = set(re.findall(r"^gaitshelf_bench_program\((\w+)", text, re.MULTILINE))
        run = {bench.command[0] for bench in bench_list.BENCHES}
        self.assertEqual(programs, {word.removeprefix(bench_list.BIN + "/") for word in run
                                    if word.startswith(bench_list.BIN)})
        for word in run:
            if not word.startswith(bench_list.BIN):
                self.assertTrue(os.access(machine.ROOT / word, os.X_OK), word)

    def test_a_program_is_built_before_it_is_run(self):
        for bench in bench_list.BENCHES:
            if bench.command[0].startswith(bench_list.BIN):
                self.assertIn(bench.command[0].removeprefix(bench_list.BIN + "/"), bench.targets)

    def test_leaves_out_of_a_smoke_run_what_has_no_small_setting(self):
        benches = run_benches.read_arguments(["--json", "report", "--quick"]).benches
        self.assertEqual([bench.name for bench in bench_list.BENCHES if bench not in benches], ["sweep"])

    def test_chooses_in_the_order_of_the_list(self):
        self.assertEqual([bench.name for bench in bench_list.choose(["leg", "demo"])], ["demo", "leg"])


class MachineTest(unittest.TestCase):
    def test_names_the_commit_and_says_whether_a_tracked_file_is_changed(self):
        folder = pathlib.Path(tempfile.mkdtemp(prefix="gaitshelf-commit-"))
        self.addCleanup(shutil.rmtree, folder)
        git = ["git", "-C", folder, "-c", "user.name=a", "-c", "user.email=a@b", "-c", "init.defaultBranch=main"]
        (folder / "file").write_text("one")
        for words in (["init", "-q"], ["add", "file"], ["commit", "-qm", "Add a file"]):
            subprocess.run([*git, *words], check=True)
        with mock.patch.object(machine, "ROOT", folder):
            commit, is_dirty = machine.commit()
            self.assertRegex(commit, r"^[0-9a-f]{40}$")
            self.assertFalse(is_dirty)
            (folder / "report.json").write_text("{}")
            self.assertEqual(machine.commit(), (commit, False))
            (folder / "file").write_text("two")
            self.assertEqual(machine.commit(), (commit, True))

    def test_has_no_commit_outside_of_a_checkout(self):
        folder = pathlib.Path(tempfile.mkdtemp(prefix="gaitshelf-commit-"))
        self.addCleanup(shutil.rmtree, folder)
        with mock.patch.object(machine, "ROOT", folder):
            self.assertEqual(machine.commit(), ("unknown", False))


if __name__ == "__main__":
    unittest.main(verbosity=2)
