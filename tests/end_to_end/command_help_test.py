"""Runs every example of the command's help against the real server, and looks at its screens.

Usage: command_help_test.py BIN_FOLDER SOURCE_FOLDER
"""
import csv
import json
import os
import re
import shlex
import shutil
import signal
import subprocess
import tempfile
import unittest
from pathlib import Path

from house import BIN, SOLVE_S, SOURCE, HouseTest, readme_blocks

COLUMNS = 80


class CommandHelpTest(HouseTest):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        for word in ("robot", "surface"):
            for path in (SOURCE / "deploy/demo").glob(f"*.{word}.textproto"):
                cls.ask(word, "put", str(path))
        cls.gait = json.loads(cls.ask(*"order --robot weevil --surface duct-steel --frequency 12Hz "
                                      "--advance 9mm --quiet --json".split()))["gait"]["name"]

    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="gaitshelf-help-")
        self.addCleanup(folder.cleanup)
        self.folder = Path(folder.name)
        (self.folder / "deploy").symlink_to(SOURCE / "deploy")

    def verbs(self):
        """Returns the verbs of the general help."""
        text = self.ask("--help").split("\n\n")[2]
        return re.findall(r"^  ([a-z]+(?: [a-z]+)?)", text, re.MULTILINE)

    def examples(self, verb):
        """Returns the command lines of a verb's help."""
        text = self.ask(*verb.split(), "--help")
        found = text.split("\nexample")[1].split("\n", 1)[1]
        lines = found.replace("\\\n", " ").splitlines()
        return [line.strip() for line in lines if line.strip()]

    def open_job(self):
        """Returns a job that takes a while."""
        out = self.ask(*"order --robot weevil --surface grit-tape --frequency 3Hz --advance 8mm "
                       "--anew --detach --json".split())
        return json.loads(out)["job"]["name"]

    def run_line(self, line, typed=""):
        words = shlex.split(line.replace("g-0123456789abcdef0123456789abcdef", self.gait))
        if "j-3" in words:
            words[words.index("j-3")] = self.open_job()
        self.assertEqual(words[0], "gaitshelf")
        return subprocess.run([BIN / "gaitshelf", *words[1:]], env=self.house.environment(),
                              cwd=self.folder, capture_output=True, text=True, input=typed,
                              timeout=SOLVE_S, check=False)

    def run_blocks(self, blocks, count):
        """Runs the lines of blocks of README.md, so many of them."""
        lines = [line for block in blocks for line in block.splitlines()]
        self.assertEqual(len(lines), count)
        for line in lines:
            with self.subTest(line=line):
                done = self.run_line(line.replace("GAIT", self.gait))
                self.assertEqual(done.returncode, 0, done.stderr)
                self.check_width(done.stdout, line)

    def check_width(self, text, what):
        for line in text.splitlines():
            self.assertLessEqual(len(line), COLUMNS, f"{what}: {line}")

    def test_every_example_of_the_help_runs(self):
        verbs = self.verbs()
        self.assertGreater(len(verbs), 18)
        for verb in verbs:
            # They need logs of a bench: trial_test.py and calibration_test.py have them.
            if verb.startswith(("trial ", "calibra", "replan")):
                continue
            examples = self.examples(verb)
            self.assertTrue(examples, verb)
            for line in examples:
                with self.subTest(line=line):
                    self.assertTrue(line.startswith(f"gaitshelf {verb}"))
                    # What is typed arms the stream for a drive; nothing hangs on this server.
                    done = self.run_line(line, "arm\n")
                    self.assertEqual(done.returncode, 0, done.stderr)
                    self.assertTrue(done.stdout or list(self.folder.glob("*.*")), line)
                    is_table = not any(word in line for word in
                                       ("--json", " show", "export", "stream", "completion"))
                    if is_table:
                        self.check_width(done.stdout, line)

    def test_sweeps_pictures_and_tables_of_the_readme_work(self):
        self.run_blocks(readme_blocks("Sweeps, pictures and tables", "bash"), 10)
        written = {path.name for path in self.folder.iterdir()}
        self.assertEqual(written, {"deploy", "map.png", "footfalls.png", "forces.png", "legs.svg",
                                   "gait.gif", "gait_table.h", "gait_table.csv"})

    def test_further_first_requests_of_the_readme_work(self):
        self.run_blocks(readme_blocks("First request from a terminal", "bash")[1:], 4)
        self.assertTrue((self.folder / "setpoints.csv").is_file())

    def test_requests_of_the_readme_at_the_controller_work(self):
        (self.folder / ".build" / "release").mkdir(parents=True)
        (self.folder / ".build" / "release" / "bin").symlink_to(BIN)
        loop, playback = readme_blocks("At the controller", "bash")[0].splitlines()

        def run(line):
            return subprocess.run(shlex.split(line), cwd=self.folder, capture_output=True, text=True,
                                  check=False, timeout=SOLVE_S)

        done = run(loop.replace("ADDRESS", self.house.address).replace("GAIT", self.gait))
        self.assertRegex(done.stdout, r"^\d{4} setpoints, \d underruns$", done.stderr)
        # For a moment, with few loops: how good the figures are depends on the machine.
        done = run(playback.replace("--seconds 600", "--seconds 1").replace("32", "2"))
        self.assertEqual(done.returncode, 0, done.stderr)
        figures = json.loads((self.folder / "playback.json").read_text(encoding="ascii"))
        self.assertEqual(figures["controllers"], 2)
        self.assertGreater(figures["played"], 1000)
        self.assertEqual(figures["held_back"], 0)
        self.assertGreaterEqual(figures["late_max_us"], figures["late_p50_us"])
        for name in ("underruns", "least_buffer_ms", "server_cpu_cores", "late_p99_us"):
            self.assertIn(name, figures)

    def test_no_block_of_the_readme_is_forgotten(self):
        text = (SOURCE / "README.md").read_text(encoding="utf-8")
        headings = re.findall(r"^## (.*)$", text, re.MULTILINE)
        counts = {h: len(readme_blocks(re.escape(h), "bash")) for h in headings}
        # Run by: first_gait_test; first_request_test and here; here; python/install_test; here;
        # trial_test; calibration_test. Python snippets are counted in python_examples_test.
        self.assertEqual({h: n for h, n in counts.items() if n}, {
            "Two commands": 1, "First request from a terminal": 4,
            "Sweeps, pictures and tables": 3, "First request from Python": 2,
            "At the controller": 1, "Trials: what the robot did": 1,
            "Calibration: what the robot really is": 2})

    def test_help_fits_a_terminal(self):
        self.check_width(self.ask("--help"), "--help")
        for verb in self.verbs():
            self.check_width(self.ask(*verb.split(), "--help"), verb)
        self.check_width(self.ask("show", self.gait).split("\nrobot ")[0], "show")

    def test_exit_codes_of_the_help_are_those_of_the_readme(self):
        readme = (SOURCE / "README.md").read_text(encoding="utf-8")
        listed = set(re.findall(r"^\| (\d+) \|", readme, re.MULTILINE))
        text = self.ask("--help").split("Exit codes:")[1]
        self.assertEqual(set(re.findall(r"(?<![\w-])(\d+) [a-z]", text)), listed)

    def test_header_reads_back_in_c_as_the_gaits_curve(self):
        header = self.folder / "gait_table.h"
        self.ask("export", self.gait, "-o", str(header), "--sample-rate", "2kHz")
        (self.folder / "print.c").write_text(
            '#include "gait_table.h"\n#include <stdio.h>\n'
            "int main(void) {\n"
            '  printf("%d %.17g %g\\n", GAIT_SAMPLE_COUNT, GAIT_SAMPLE_PERIOD_S,\n'
            "         GAIT_POSITION_WORST_ERROR_M);\n"
            "  for (int s = 0; s < GAIT_SAMPLE_COUNT; ++s)\n"
            "    for (int c = 0; c < GAIT_COORDINATE_COUNT; ++c)\n"
            '      printf("%.17g %.17g\\n", GAIT_POSITION_UNIT_M * gait_position[s][c],\n'
            "             GAIT_VOLTAGE_UNIT_V * gait_voltage[s][c]);\n"
            "  return 0;\n}\n", encoding="ascii")
        program = self.folder / "print"
        subprocess.run(["cc", "-std=c99", "-Wall", "-Wextra", "-Werror", "-o", program,
                        self.folder / "print.c"], check=True)
        lines = subprocess.run([program], capture_output=True, text=True, check=True
                               ).stdout.splitlines()
        count, period_s, worst_m = (float(word) for word in lines[0].split())
        self.assertEqual(count, 167)  # 166.7 periods of 0.5 ms in a cycle
        self.assertLess(worst_m, 1e-7)
        # The same curve by another way: a preview whose samples are as far apart as the table's.
        self.ask("stream", self.gait, "--seconds", "1", "--preview", "--unpaced", "--rate",
                 f"{1 / period_s:.17g}Hz", "--csv", str(self.folder / "curve.csv"))
        with open(self.folder / "curve.csv", encoding="ascii") as file:
            rows = list(csv.DictReader(file))
        columns = [name for name in rows[0] if re.search(r"\.(lift|swing)_m$", name)]
        table_m = [float(line.split()[0]) for line in lines[1:]]
        steps = 0
        for row in rows:
            place = float(row["phase_ratio"]) * count
            if place < 0 or abs(place - round(place)) > 1e-6:
                continue
            sample = round(place) % int(count)
            for c, column in enumerate(columns):
                self.assertAlmostEqual(table_m[sample * len(columns) + c], float(row[column]),
                                       delta=worst_m + 1e-9)
                steps += 1
        self.assertGreater(steps, 8 * 100)

    def test_sweep_answers_hits_at_once_and_ends_with_three_on_a_failure(self):
        words = ["sweep", "--robot", "weevil", "--surface", "duct-steel", "--frequency", "12Hz"]
        out = self.ask(*words, "--advance", "9mm", "--json")
        self.assertEqual(json.loads(out)["entries"][0]["gait"], self.gait)
        code, out, err = self.house.command(*words, "--advance", "9mm,60mm", "--quiet")
        self.assertEqual(code, 3, err)
        self.assertIn("1 of 2 good", out)
        self.check_width(out.split("\nfailed")[0], "sweep")
        code, _, err = self.house.command(*words, "--advance", "900mm")
        self.assertEqual(code, 2)
        self.assertIn("advance_m", err)

    def test_interrupt_of_a_sweep_leaves_its_jobs_running(self):
        for how in (signal.SIGINT, signal.SIGTERM):
            process = self.house.start_command(
                "sweep", "--robot", "weevil", "--surface", "grit-tape", "--frequency",
                f"{5 + how}Hz", "--advance", "9mm")
            line = process.stderr.readline()
            self.assertIn("0/1", line)
            process.send_signal(how)
            _, err = process.communicate(timeout=60)
            self.assertEqual(process.returncode, 130, err)
            self.assertIn("jobs go on", err)
            self.assertNotIn("Traceback", err)
            self.assertTrue(json.loads(self.ask("jobs", "--open", "--json"))["jobs"])

    def test_plot_says_so_when_the_package_is_missing(self):
        program = self.folder / "bin" / "gaitshelf"
        program.parent.mkdir()
        shutil.copy(BIN / "gaitshelf", program)
        environment = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
        done = subprocess.run([program, "plot", "legs", self.gait, "-o", "a.png"], check=False,
                              env=environment, cwd=self.folder, capture_output=True, text=True)
        self.assertEqual(done.returncode, 1)
        self.assertIn("cannot load: No module named 'gaitshelf'", done.stderr)
        self.assertNotIn("Traceback", done.stderr)

    def test_bash_completes_verbs_flags_choices_and_files(self):
        (self.folder / "a.robot.textproto").touch()
        for typed, expected in (("gaitshelf pl", ["plot"]), ("gaitshelf robot ", ["list", "put", "show"]),
                                ("gaitshelf export g-1 --fo", ["--form"]),
                                ("gaitshelf export g-1 --form ", ["csv", "header"]),
                                ("gaitshelf robot put a.r", ["a.robot.textproto"])):
            self.assertEqual(self.complete(typed), expected, typed)

    def test_bash_completes_the_names_that_the_server_has(self):
        job = self.open_job()
        self.assertIn(self.gait, self.complete("gaitshelf show "))
        self.assertEqual(self.complete(f"gaitshelf export {self.gait[:20]}"), [self.gait])
        self.assertIn(job, self.complete("gaitshelf watch j-"))
        for typed in ("gaitshelf robot show wee", "gaitshelf order --robot=wee",
                      "gaitshelf plot map wee", "gaitshelf sweep --surface felt --robot wee"):
            self.assertEqual(self.complete(typed), ["weevil", "weevil-lumped"], typed)
        self.assertEqual(self.complete("gaitshelf sweep --surface duct-steel,li"),
                         ["duct-steel,liner-felt"])
        self.assertEqual(self.complete("gaitshelf plot trial t-"), [])
        # An address has colons, at which bash itself would split.
        self.assertEqual(self.complete("gaitshelf show --server unix:/nowhere/g.sock "), [])

    def complete(self, typed):
        """Returns what bash offers at the end of a line."""
        script = ('eval "$(gaitshelf completion bash)"\n'
                  f"COMP_LINE={shlex.quote(typed)} COMP_POINT={len(typed)}\n"
                  f"_gaitshelf gaitshelf {shlex.quote(re.split('[ =]', typed)[-1])}\n"
                  "printf '%s\\n' \"${COMPREPLY[@]}\"")
        done = subprocess.run(["bash", "-c", script], capture_output=True, text=True, check=True,
                              cwd=self.folder,
                              env=dict(self.house.environment(),
                                       PATH=f"{BIN}:{os.environ['PATH']}"))
        return sorted(done.stdout.split())


if __name__ == "__main__":
    unittest.main(argv=["command_help_test.py"], verbosity=2)
