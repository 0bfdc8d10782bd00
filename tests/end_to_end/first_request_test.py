"""Runs the first requests of README.md against the real server, and what may go wrong with them.

Its Python snippets are run by python_examples_test.py.

Usage: first_request_test.py BIN_FOLDER SOURCE_FOLDER. Needs PYTHONPATH with the package gaitshelf.
"""
import csv
import json
import os
import pty
import re
import shlex
import signal
import subprocess
import sys
import time
import unittest

import gaitshelf
from house import BIN, SOLVE_S, SOURCE, TWELVE_HERTZ, HouseTest, readme_blocks, wait_until


class FirstRequestTest(HouseTest):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        for word, name in (("robot", "weevil"), ("surface", "duct-steel"), ("surface", "grit-tape")):
            cls.ask(word, "put", f"deploy/demo/{name}.{word}.textproto")

    def run_ok(self, *words):
        code, out, err = self.house.command(*words)
        self.assertEqual(code, 0, err)
        return out, err

    def known_gait(self):
        """Returns the name of the gait that README.md orders."""
        out, _ = self.run_ok("order", *TWELVE_HERTZ, "--advance", "9mm", "--json", "--quiet")
        return json.loads(out)["gait"]["name"]

    def test_requests_of_the_readme_work_from_a_terminal(self):
        block = readme_blocks("First request from a terminal", "bash")[0]
        lines = [line for line in block.splitlines() if line.startswith("gaitshelf ")]
        self.assertEqual(len(lines), 5)
        answers = [self.run_ok(*shlex.split(line)[1:]) for line in lines]
        first, second, gaits = answers[2], answers[3], answers[4]
        self.assertIn("good: planned", first[0])
        # The same order again comes from the library, without a job.
        self.assertTrue(second[0].startswith("in the library: g-"), second[0])
        self.assertEqual(second[1], "")
        name = re.search(r"g-[0-9a-f]{32}", second[0])[0]
        self.assertIn(name, first[0])
        self.assertIn(name, gaits[0])
        self.assertIn("replay under the leg controller", self.run_ok("show", name)[0])

    def test_modes_are_the_same_from_terminal_and_python(self):
        blocks = readme_blocks("First request from a terminal", "bash")
        line = next(line for block in blocks for line in block.splitlines() if " modes " in line)
        out, _ = self.run_ok(*shlex.split(line)[1:])
        self.assertIn("weevil standing on sliding feet", out)
        seen = json.loads(self.run_ok("modes", "weevil", "--feet", "sticking", "--json")[0])
        with gaitshelf.connect(self.house.address) as library:
            answer = library.modes("weevil", feet="sticking")
        self.assertEqual([mode["frequency_hz"] for mode in seen["modes"]],
                         [mode.frequency_hz for mode in answer.modes])
        # Sticking feet turn the roll into one about the ground line, near 15 Hz (own derivation in
        # tests/solver/leg/modes_test.cc).
        self.assertIn("sway-roll", [mode.name for mode in answer.modes])

    def test_python_sees_the_same_gait_as_arrays(self):
        name = self.known_gait()
        with gaitshelf.connect(self.house.address) as library:
            # 9mm on the command line and 0.009 here are one key.
            gait = library.find("weevil", "duct-steel", frequency_hz=12, advance_m=0.009)
            self.assertEqual(gait.name, name)
            self.assertIsNone(
                library.find("weevil", "duct-steel", frequency_hz=12, advance_m=0.00911))
            self.assertIn(name, [summary.name for summary in library.list(only_good=True)])
        count = gait.knot_count
        self.assertTrue(gait.is_good)
        self.assertEqual(gait.leg_position_m.shape, (count, 8))
        self.assertEqual(gait.foot_force_n.shape, (count, 4, 3))
        # What the description of the robot allows.
        self.assertGreaterEqual(gait.voltage_v.min(), -1e-6)
        self.assertLessEqual(gait.voltage_v.max(), 200 + 1e-6)
        # The surface pushes, and friction stays in its cone of 0.18.
        normal_n = gait.foot_force_n[:, :, 2]
        tangential_n = (gait.foot_force_n[:, :, :2] ** 2).sum(axis=2) ** 0.5
        weight_n = 1.9e-3 * 9.81
        self.assertGreaterEqual(normal_n.min(), -1e-5 * weight_n)
        self.assertLessEqual((tangential_n - 0.18 * normal_n).max(), 1e-5 * weight_n)
        # Over a cycle the ground carries the weight: the law of momentum.
        self.assertAlmostEqual(normal_n.sum(axis=1).mean() / weight_n, 1, delta=0.01)

    def test_stream_keeps_to_the_drive_and_its_clock(self):
        file = self.house.path / "setpoints.csv"
        start = time.monotonic()
        self.run_ok("stream", self.known_gait(), "--seconds", "0.5", "--rate", "1kHz", "--preview",
                    "--csv", str(file))
        self.assertGreater(time.monotonic() - start, 0.3)  # paced, with some sent ahead
        with file.open(encoding="utf-8") as opened:
            rows = list(csv.DictReader(opened))
        self.assertGreaterEqual(len(rows), 500)
        columns = [name for name in rows[0] if name.endswith("_voltage_v")]
        self.assertEqual(len(columns), 8)
        last = None
        for number, entry in enumerate(rows):
            self.assertAlmostEqual(float(entry["time_s"]), number / 1000, delta=1e-9)
            volts = [float(entry[column]) for column in columns]
            self.assertTrue(all(-1e-9 <= v <= 200 + 1e-9 for v in volts), volts)
            if last is not None:  # 200 V/ms is the slew of the robot's drive
                self.assertLessEqual(max(abs(a - b) for a, b in zip(volts, last)), 200 + 1e-6)
            last = volts
        self.assertTrue(any(float(entry["phase_ratio"]) >= 0 for entry in rows))

    def test_progress_bar_fits_a_terminal(self):
        leader, follower = pty.openpty()
        process = subprocess.Popen(
            [BIN / "gaitshelf", "order", *TWELVE_HERTZ, "--advance", "8.8mm"],
            env=self.house.environment(), stdout=follower, stderr=follower)
        os.close(follower)
        text = b""
        try:
            while chunk := os.read(leader, 4096):
                text += chunk
        except OSError:  # the other end is closed
            pass
        os.close(leader)
        self.assertEqual(process.wait(SOLVE_S), 0, text)
        drawn = [part for part in text.decode().split("\r") if "violation" in part]
        self.assertGreater(len(drawn), 2)
        for part in drawn:
            self.assertRegex(part, r"round +\d+ violation \S+ \[#*\.*\] \d+ knots")
            self.assertLessEqual(len(part.split("\033")[0]), 79)

    def test_cancel_ends_a_job(self):
        out, _ = self.run_ok("order", *TWELVE_HERTZ, "--advance", "7mm", "--knots", "400",
                             "--detach", "--json")
        job = json.loads(out)["job"]["name"]
        wait_until(lambda: "JOB_STATE_RUNNING" in self.run_ok("jobs", "--open", "--json")[0])
        self.assertRegex(self.run_ok("cancel", job)[0], "is told to stop|cancelled")
        code, _, err = self.house.command("watch", job)
        self.assertEqual(code, 3)
        self.assertIn("cancelled", err)
        wait_until(lambda: not self.house.workers())
        code, _, err = self.house.command("cancel", job)
        self.assertEqual(code, 1)
        self.assertIn(job, err)

    def test_interrupt_leaves_the_job_running(self):
        process = self.house.start_command("order", *TWELVE_HERTZ, "--advance", "8.6mm")
        line = process.stderr.readline()
        job = re.search(r"job (\S+)", line)[1]
        process.stderr.readline()  # it watches
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=60)
        self.assertEqual(process.returncode, 130)
        self.assertIn(f"gaitshelf watch {job}", err)
        self.assertIn("good: planned", self.run_ok("watch", job)[0])

    def test_job_ends_done_when_its_worker_is_killed(self):
        # A solve takes about a second; on a busy machine it may be over before the kill comes.
        for advance in ("8.4mm", "8.35mm", "8.3mm", "8.25mm"):
            process, job = self.house.start_order(advance)
            pids = self.house.workers(job)
            if pids:
                break
            process.communicate(timeout=SOLVE_S)
        self.assertEqual(len(pids), 1, "every solve was over before its worker could be killed")
        os.kill(pids[0], signal.SIGKILL)
        out, err = process.communicate(timeout=SOLVE_S)
        self.assertEqual(process.returncode, 0, err)
        self.assertIn("good: planned", out)
        gait = json.loads(self.run_ok("show", out.split()[0], "--json")[0])
        self.assertGreaterEqual(gait["provenance"]["attempt"], 2)

    def test_order_survives_a_kill_of_the_server(self):
        before = self.known_gait()
        process, _ = self.house.start_order("8.2mm")
        self.house.kill()
        self.house.start()
        out, err = process.communicate(timeout=SOLVE_S)
        self.assertEqual(process.returncode, 0, err)
        self.assertIn("good: planned", out)
        self.run_ok("show", before)

    def test_errors_name_the_fault_and_have_their_exit_codes(self):
        advance = ["--advance", "9mm"]
        for code, words, message in (
                (4, ["order", "--robot", "beetle", *TWELVE_HERTZ[2:], *advance], "beetle"),
                (4, ["order", *TWELVE_HERTZ[:2], "--surface", "ice", "--frequency", "12Hz", *advance],
                 "ice"),
                (4, ["show", "g-00000000000000000000000000000000"], "g-0000"),
                (4, ["watch", "j-999999"], "j-999999"),
                (2, ["order", *TWELVE_HERTZ, "--advance", "9"], "write 9mm"),
                (2, ["order", *TWELVE_HERTZ, "--advance", "900mm"], "advance_m"),
                (1, ["jobs", "--server", "unix:/nonexistent/g.sock"], "no server answers")):
            with self.subTest(words=words):
                got, out, err = self.house.command(*words)
                self.assertEqual(got, code, err)
                self.assertIn(message, err)
                self.assertEqual(out, "")

    def test_order_with_several_faults_reports_each_on_a_line(self):
        code, _, err = self.house.command("order", *TWELVE_HERTZ[:4], "--frequency", "900Hz",
                                          "--advance", "900mm", "--knots", "3")
        self.assertEqual(code, 2)
        for field in ("stride_frequency_hz", "advance_m", "knot_count"):
            self.assertRegex(err, rf"(?m)^  \S*{field}: ")

    def test_check_reports_every_fault_of_a_robot(self):
        text = (SOURCE / "deploy/demo/weevil.robot.textproto").read_text(encoding="utf-8")
        text = text.replace("mass_kg: 1.8132e-3", "mass_kg: -1", 1)
        text = text.replace('name: "weevil"', 'name: "Weevil"', 1)
        file = self.house.path / "bad.robot.textproto"
        file.write_text(text, encoding="utf-8")
        for verb in (["check"], ["robot", "put"]):
            code, _, err = self.house.command(*verb, str(file))
            self.assertEqual(code, 2, err)
            self.assertRegex(err, r"(?m)^  \S*mass_kg: .*-1")
            self.assertRegex(err, r"(?m)^  \S*name: .*Weevil")

    def test_text_of_a_description_is_told_all_its_faults_with_line_and_mend(self):
        text = (SOURCE / "deploy/demo/weevil.robot.textproto").read_text(encoding="utf-8")
        text = text.replace("mass_kg: 1.8132e-3", "mass_g: 1.8132", 1)
        text += "\nlegz { }\n"
        file = self.house.path / "slips.robot.textproto"
        file.write_text(text, encoding="utf-8")
        line = text[:text.index("mass_g")].count("\n") + 1
        for verb in (["check"], ["robot", "put"], ["modes"]):
            code, out, err = self.house.command(*verb, str(file))
            self.assertEqual((code, out), (2, ""), err)
            self.assertIn("slips.robot.textproto: 2 faults\n", err)
            self.assertRegex(err, rf"(?m)^  body\.mass_g: is unknown; .*write mass_kg; .*\(line {line}, ")
            self.assertRegex(err, r"(?m)^  legz: is unknown; .*write legs \(line ")


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], verbosity=2)
