"""Takes a trial through the house: a real gait, logs of its replay, upload, analysis, comparison.

Usage: trial_test.py BIN_FOLDER SOURCE_FOLDER. Needs PYTHONPATH with the package gaitshelf.
"""
import json
import shlex
import subprocess
import unittest

import numpy as np

import gaitshelf
from gaitshelf import plots
from gaitshelf.v1 import trial_analysis_pb2, trial_pb2

from house import BIN, SOURCE, House, readme_blocks

DELAY_S = 0.0123
ROBOT = "deploy/demo/weevil-lumped.robot.textproto"
SURFACE = "deploy/demo/liner-felt.surface.textproto"


class TrialTest(unittest.TestCase):
    def setUp(self):
        self.house = House()
        self.house.start()
        self.addCleanup(lambda: self.assertEqual(self.house.stop(), 0))
        self.run_ok("robot", "put", ROBOT)
        self.run_ok("surface", "put", SURFACE)
        order = json.loads(self.run_ok("order", "--robot", "weevil-lumped", "--surface",
                                       "liner-felt", "--frequency", "12Hz", "--advance", "9mm",
                                       "--json", "--quiet"))
        self.gait = order["gait"]["name"]
        gait_file = self.house.path / "gait.json"
        gait_file.write_text(self.run_ok("show", self.gait, "--json"), encoding="utf-8")
        self.replayed_m = float(subprocess.run(
            [BIN / "replay_log", ROBOT, SURFACE, gait_file, self.house.path, "12", str(DELAY_S)],
            cwd=SOURCE, capture_output=True, text=True, check=True).stdout)
        self.board = str(self.house.path / "board.csv")
        self.tracking = str(self.house.path / "tracking.csv")

    def run_ok(self, *words):
        code, out, err = self.house.command(*words)
        self.assertEqual(code, 0, err)
        return out

    def put(self):
        out = json.loads(self.run_ok("trial", "put", self.board, self.tracking, "--gait", self.gait,
                                     "--title", "replay", "--invented", "--json"))
        return out["trial"]["name"]

    def test_analysis_finds_what_the_replay_did(self):
        name = self.put()
        self.assertIn(name, self.run_ok("trial", "list", "--gait", self.gait))
        self.assertIn("front-left swing [mm]", self.run_ok("trial", "show", name))
        analysis = json.loads(self.run_ok("trial", "analyse", name, "--greatest-delay", "50ms",
                                          "--json"))
        self.assertEqual(analysis["cycle_source"], "CYCLE_SOURCE_PHASE")
        self.assertEqual(analysis["delay"]["outcome"], "DELAY_OUTCOME_FOUND")
        self.assertAlmostEqual(analysis["delay"]["delay_s"], DELAY_S, delta=3e-4)
        self.assertAlmostEqual(analysis["stride_m"]["mean_si"], self.replayed_m,
                               delta=0.02 * self.replayed_m)
        for foot in analysis["feet"]:
            self.assertAlmostEqual(foot["touchdowns_per_cycle_ratio"], 1, delta=0.5)
        self.assertIn("touchdown", self.run_ok("trial", "analyse", name, "--greatest-delay",
                                               "50ms"))

    def test_comparison_stands_beside_plan_replay_and_hand_tuned_gait(self):
        name = self.put()
        comparison = json.loads(self.run_ok("trial", "compare", name, "--greatest-delay", "50ms",
                                            "--json"))
        stride = next(f for f in comparison["figures"] if f["figure"] == "stride")
        for side in ("measured_si", "planned_si", "replayed_si", "hand_tuned_si"):
            self.assertGreater(stride[side], 0.003, side)
        effects = [abs(d["effect_m"]) for d in comparison["differences"]]
        self.assertEqual(effects, sorted(effects, reverse=True))
        text = self.run_ok("trial", "compare", name, "--greatest-delay", "50ms")
        self.assertIn("what differs most", text)
        self.assertLessEqual(max(map(len, text.splitlines())), 80)

    def test_pose_is_known_without_the_delay(self):
        name = self.put()
        with gaitshelf.connect(self.house.address) as library:
            pose = library.trial_pose(name, greatest_delay_s=0.05)
            logs = library.trial_logs(name)
        self.assertAlmostEqual(pose.delay_s, DELAY_S, delta=3e-4)
        self.assertEqual(pose.body_position_m.shape, (len(pose.time_s), 3))
        self.assertEqual(pose.body_attitude_rad.shape, (len(pose.time_s), 3))
        tracked = logs[1].columns
        # What tracking says of a time comes in later by the delay.
        truth_m = 1e-3 * np.interp(pose.time_s + DELAY_S, tracked["time [s]"],
                                   tracked["body x [mm]"])
        late_m = 1e-3 * np.interp(pose.time_s, tracked["time [s]"], tracked["body x [mm]"])
        counts = (pose.time_s > 0.2) & (pose.time_s < tracked["time [s]"][-1] - DELAY_S)
        self.assertGreater(counts.sum(), 100)
        error_m = np.sqrt(np.mean((pose.body_position_m[:, 0] - truth_m)[counts] ** 2))
        naive_m = np.sqrt(np.mean((late_m - truth_m)[counts] ** 2))
        self.assertLess(error_m, 0.25 * naive_m)
        rows = self.run_ok("trial", "pose", name, "--delay", "12.3ms", "--rate",
                           "50Hz").splitlines()
        self.assertIn("12.3 ms late", rows[0])
        self.assertTrue(rows[1].startswith("time [s],body x [mm]"))
        self.assertAlmostEqual(float(rows[3].split(",")[0]) - float(rows[2].split(",")[0]), 0.02,
                               delta=2e-3)
        # It is a log itself.
        estimated = self.house.path / "pose.csv"
        estimated.write_text("\n".join(rows), encoding="utf-8")
        self.run_ok("trial", "put", str(estimated), "--gait", self.gait, "--invented")

    def test_requests_of_the_readme_and_examples_of_the_help_work(self):
        lines = readme_blocks("Trials: what the robot did", "bash")[0].splitlines()
        self.assertEqual(len(lines), 4)
        for verb in ("put", "list", "show", "analyse", "compare", "pose"):
            text = self.run_ok("trial", verb, "--help").split("\nexample")[1].split("\n", 1)[1]
            lines += [line.strip() for line in text.replace("\\\n", " ").splitlines() if line.strip()]
        trial = self.put()
        ready = {"board.csv": self.board, "tracking.csv": self.tracking, "GAIT": self.gait,
                 "g-0123456789abcdef0123456789abcdef": self.gait, "TRIAL": trial,
                 "t-0123456789abcdef0123456789abcdef": trial,
                 "trial.png": str(self.house.path / "drawn.png")}
        for line in lines:
            with self.subTest(line=line):
                words = shlex.split(line)
                self.assertEqual(words[0], "gaitshelf")
                out = self.run_ok(*[ready.get(word, word) for word in words[1:]])
                self.assertTrue(out)
                self.assertLessEqual(max(map(len, out.splitlines())), 80 + len(str(self.house.path)))
        self.assertTrue((self.house.path / "drawn.png").is_file())
        self.assertIn(trial, self.run_ok("show", self.gait).split("trials, newest first")[1])

    def test_bad_logs_are_refused_by_row_and_column(self):
        lines = (self.house.path / "board.csv").read_text(encoding="utf-8").splitlines()
        for cell, words in (("often", "is no number"), ("-2", "must be -1 to 1")):
            with self.subTest(cell=cell):
                row = lines[4 + 6].split(",")
                row[1] = cell
                bad = self.house.path / "bad.csv"
                bad.write_text("\n".join(lines[:10] + [",".join(row)] + lines[11:]),
                               encoding="utf-8")
                code, _, err = self.house.command("trial", "put", str(bad), "--gait", self.gait)
                self.assertEqual(code, 2)
                self.assertIn("row 7", err)
                self.assertIn("phase", err)
                self.assertIn(words, err)

    def test_python_takes_trials_in_and_draws_them(self):
        with gaitshelf.connect(self.house.address) as library:
            logs = library.trial_logs(self.put())
            self.assertEqual([log.clock for log in logs], ["on-board", "tracking"])
            trial = trial_pb2.Trial(kind=trial_pb2.TRIAL_KIND_GAIT, gait=self.gait, title="again",
                                    is_invented=True)
            stored = library.put_trial(trial, logs)
            self.assertEqual(library.trial(stored.name).title, "again")
            self.assertEqual(len(library.trials(gait=self.gait)), 2)
            again = library.trial_logs(stored.name)
            for before, after in zip(logs, again):
                for label, values in before.columns.items():
                    np.testing.assert_array_equal(values, after.columns[label])
            analysis = library.analyse_trial(stored.name, greatest_delay_s=0.05)
            comparison = library.compare_trial(stored.name, greatest_delay_s=0.05)
            self.assertEqual(comparison.analysis, analysis)
            gait = library.get(self.gait)
            figure = plots.trial_against_plan(analysis, gait)
            picture = self.house.path / "trial.png"
            figure.savefig(picture)
            self.assertGreater(picture.stat().st_size, 10_000)
            for kind in ("trial", "strides"):
                out = self.house.path / f"{kind}.svg"
                self.run_ok("plot", kind, stored.name, "--greatest-delay", "50ms", "-o", str(out))
                self.assertGreater(out.stat().st_size, 5_000)
            drawn = figure.axes[1].lines[1].get_ydata()
            mean = np.array(analysis.mean_cycle.leg_position_m).reshape(
                analysis.mean_cycle.phase_count, -1)
            np.testing.assert_allclose(drawn[:-1], 1e3 * mean[:, 1])
            with self.assertRaisesRegex(ValueError, "no cycles"):
                plots.trial_against_plan(trial_analysis_pb2.TrialAnalysis(), gait)
            with self.assertRaisesRegex(gaitshelf.InvalidRequest, "differ in length"):
                library.put_trial(trial, [gaitshelf.TrialLog(
                    "log", "tracking", {"time [s]": [0, 1], "body x [mm]": [0]})])
            with self.assertRaisesRegex(gaitshelf.InvalidRequest, "wall"):
                library.put_trial(trial, [gaitshelf.TrialLog("log", "wall", {"phase": [0, 1]})])


if __name__ == "__main__":
    unittest.main(argv=["trial_test"], verbosity=2)
