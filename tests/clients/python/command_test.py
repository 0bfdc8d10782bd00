"""Tests what the verbs sweep, map and plot print and write, with a library of made gaits.

That they run from the program, with the real server, is tested in tests/end_to_end.
"""
import argparse
import io
import json
import tempfile
import unittest
from contextlib import redirect_stdout
from pathlib import Path

import gaitshelf
from gaitshelf.command import choose, gait_map, plot, sweep, table
from gaitshelf.v1 import audit_pb2, gait_pb2, job_pb2, model_service_pb2, robot_pb2, trial_analysis_pb2


def make_gait(index, surface="duct-steel", frequency_hz=12.0, asked_m=0.009):
    """Returns a good gait of one leg whose numbers are invented."""
    gait = gait_pb2.Gait(name=f"g-{index:032x}", robot="weevil", surface=surface,
                         stride_frequency_hz=frequency_hz, is_periodic=True, knot_count=8,
                         knot_period_s=1 / frequency_hz / 8, advance_m=asked_m, leg_names=["left"],
                         foot_names=["left"], voltage_v=[0, 0, 100, 0] * 4,
                         leg_position_m=[0.001] * 16, foot_force_n=[0, 0, 0.01] * 8)
    gait.task.advance.advance_m = asked_m
    gait.audit.verdict = audit_pb2.VERDICT_GOOD
    gait.audit.replay.advance_m = asked_m - 0.0001
    gait.audit.spread.mean_m = 0.0087
    gait.audit.spread.deviation_m = 0.0002
    gait.audit.spread.p05_m = 0.0083
    return gaitshelf.Gait(gait)


class FakeLibrary:
    """Answers as a Client does, from a list of gaits, newest first."""

    def __init__(self, gaits, superseded=()):
        self.gaits = {gait.name: gait for gait in gaits}
        self.superseded = superseded

    def list(self, robot="", only_good=False):
        assert only_good
        return [gait_pb2.GaitSummary(name=gait.name, robot=gait.robot, surface=gait.surface,
                                     stride_frequency_hz=gait.frequency_hz, task=gait.message.task,
                                     is_superseded=gait.name in self.superseded)
                for gait in self.gaits.values() if gait.robot == robot]

    def get(self, name):
        return self.gaits[name]

    def modes(self, _robot):
        return model_service_pb2.FindModesResponse(modes=[
            model_service_pb2.Mode(name="sway-roll", frequency_hz=15.0)])

    def compare_trial(self, name, greatest_delay_s):
        comparison = trial_analysis_pb2.TrialComparison(gait=f"g-{1:032x}")
        comparison.analysis.trial = f"{name} by {greatest_delay_s}"
        if name == "t-1":
            comparison.analysis.cycle_stride_m[:] = [0.008, 0.009]
            comparison.figures.add(figure="stride", planned_si=0.009)
            mean = comparison.analysis.mean_cycle
            mean.phase_count = 2
            mean.leg_names[:] = mean.foot_names[:] = ["left"]
            mean.leg_position_m[:] = mean.leg_position_deviation_m[:] = [0.001] * 4
            mean.contact_ratio[:] = [1, 0]
        return comparison

    def robot_of(self, _gait):
        robot = robot_pb2.Robot()
        robot.legs.add().lumped.lift.bimorph.capacitance_f = 1e-8
        return robot


def arguments(*names, **options):
    return argparse.Namespace(**{"names": names, "surface": [], "advance": [], "json": False,
                                 "out": "", "greatest_delay": 0.0, **options})


def printed(verb, library, words):
    out = io.StringIO()
    with redirect_stdout(out):
        code = verb.run(library, words)
    return code, out.getvalue()


class ChooseTest(unittest.TestCase):
    def test_takes_the_newest_of_each_order_in_their_order(self):
        gaits = [make_gait(5, frequency_hz=20), make_gait(4), make_gait(3),
                 make_gait(2, "liner-felt"), make_gait(1, asked_m=0.006)]
        chosen = choose.good_gaits(FakeLibrary(gaits, [gaits[1].name]), "weevil", [], [])
        self.assertEqual([int(gait.name[2:], 16) for gait in chosen], [1, 3, 5, 2])
        chosen = choose.good_gaits(FakeLibrary(gaits), "weevil", ["duct-steel"], [0.009])
        self.assertEqual([int(gait.name[2:], 16) for gait in chosen], [4, 5])

    def test_says_how_to_get_some_when_there_are_none(self):
        with self.assertRaisesRegex(gaitshelf.NotFound, "'earwig'.*gaitshelf sweep"):
            choose.good_gaits(FakeLibrary([make_gait(1)]), "earwig", [], [])


class MapTest(unittest.TestCase):
    library = FakeLibrary([make_gait(1), make_gait(2, frequency_hz=20)])

    def test_shows_stride_spread_and_energy_with_modes_between(self):
        code, text = printed(gait_map, self.library, arguments("weevil"))
        lines = text.splitlines()
        self.assertEqual(code, 0)
        self.assertLessEqual(max(map(len, lines)), table.COLUMNS)
        # 4 charges of 10 nF to 100 V over 8.9 mm.
        self.assertEqual(lines[1].split(),
                         ["duct-steel", "12", "9", "8.90", "8.70", "8.30", "22.5"])
        self.assertEqual(lines[2], "  -- 15.00 Hz: sway-roll")
        self.assertEqual(lines[3].split()[1], "20")

    def test_json_has_si_units(self):
        _, text = printed(gait_map, self.library, arguments("weevil", json=True))
        answer = json.loads(text)
        self.assertEqual(answer["modes"], [{"name": "sway-roll", "frequency_hz": 15.0}])
        self.assertAlmostEqual(answer["gaits"][0]["replayed_advance_m"], 0.0089, delta=1e-12)
        self.assertAlmostEqual(answer["gaits"][0]["charging_j_per_m"], 2e-4 / 0.0089, delta=1e-9)
        self.assertEqual(answer["gaits"][1]["gait"], f"g-{2:032x}")


class PlotTest(unittest.TestCase):
    library = FakeLibrary([make_gait(1), make_gait(2, frequency_hz=20)])

    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = Path(folder.name)

    def test_writes_what_the_ending_says_and_the_same_bytes_each_time(self):
        for ending, begin in (("png", b"\x89PNG"), ("svg", b"<?xml"), ("pdf", b"%PDF")):
            path = self.folder / f"legs.{ending}"
            words = arguments("footfalls", f"g-{1:032x}", out=str(path))
            self.assertEqual(printed(plot, self.library, words), (0, f"{path}\n"))
            first = path.read_bytes()
            self.assertEqual(first[:len(begin)], begin)
            printed(plot, self.library, words)
            if ending != "svg":  # Matplotlib draws new marks for the parts of each SVG
                self.assertEqual(path.read_bytes(), first)
        self.assertEqual(len(list(self.folder.iterdir())), 3)

    def test_draws_the_gaits_of_a_robot(self):
        for kind in ("map", "spread"):
            path = self.folder / f"{kind}.png"
            printed(plot, self.library, arguments(kind, "weevil", out=str(path), json=True))
            self.assertTrue(path.is_file())

    def test_draws_a_trial_beside_its_gait(self):
        for kind in ("trial", "strides"):
            path = self.folder / f"{kind}.png"
            printed(plot, self.library, arguments(kind, "t-1", out=str(path)))
            self.assertTrue(path.is_file())
            with self.assertRaisesRegex(gaitshelf.InvalidRequest, "t-2 by 0.05 has no"):
                plot.run(self.library, arguments(kind, "t-2", out=str(path), greatest_delay=0.05))

    def test_refuses_endings_that_do_not_suit(self):
        for kind, name in (("footfalls", "a.gif"), ("animation", "a.png"), ("map", "a")):
            with self.assertRaisesRegex(gaitshelf.InvalidRequest, "must end in"):
                plot.run(self.library, arguments(kind, f"g-{1:032x}", out=str(self.folder / name)))
        self.assertEqual(list(self.folder.iterdir()), [])


class SweepTextTest(unittest.TestCase):
    def setUp(self):
        order = gaitshelf.Order("weevil", "duct-steel", 12.0, advance_m=0.009)
        far = gaitshelf.Order("weevil", "duct-steel", 12.0, advance_m=0.025)
        failure = gaitshelf.JobFailed(job_pb2.Job(name="j-2", state=job_pb2.JOB_STATE_FAILED,
                                                  failure_reason="25 mm is beyond the reach"))
        self.entries = [gaitshelf.SweepEntry(order, make_gait(1), None),
                        gaitshelf.SweepEntry(far, None, failure)]

    def test_table_fits_and_says_why_an_order_failed(self):
        lines = sweep.to_text(self.entries).splitlines()
        self.assertLessEqual(max(map(len, lines)), table.COLUMNS)
        self.assertIn(f"good     g-{1:032x}", lines[1])
        self.assertIn("25 mm is beyond the reach", lines[4])
        self.assertEqual(lines[-1], "1 of 2 good")

    def test_json_has_every_order(self):
        entries = json.loads(sweep.to_json(self.entries))["entries"]
        self.assertEqual([entry["is_good"] for entry in entries], [True, False])
        self.assertEqual(entries[1]["order"]["task"]["advance"]["advance_m"], 0.025)

    def test_progress_tells_rate_and_remaining_time_once_there_is_one(self):
        order = self.entries[0].order
        first = gaitshelf.SweepProgress(20, 0, 0.0, order, None)
        self.assertEqual(sweep.progress_text(first), f"0/20   0%; {order}")
        later = gaitshelf.SweepProgress(20, 9, 0.45, order, None, 0.2, 55.0)
        self.assertEqual(sweep.progress_text(later), f"9/20  45% 12/min, 55 s left; {order}")

    def test_line_is_drawn_over_on_a_terminal_only(self):
        class Terminal(io.StringIO):
            def isatty(self):
                return True

        progress = gaitshelf.SweepProgress(20, 0, 0.0, self.entries[0].order, None)
        for out, expected in ((Terminal(), 2), (io.StringIO(), 0)):
            line = sweep.ProgressLine(out, False)
            line.show(progress)
            line.show(progress)
            line.finish()
            self.assertEqual(out.getvalue().count("\r"), expected)
            self.assertEqual(out.getvalue().count("\n"), 1)
        quiet = io.StringIO()
        sweep.ProgressLine(quiet, True).show(progress)
        self.assertEqual(quiet.getvalue(), "")


class DurationTest(unittest.TestCase):
    def test_tells_spans_in_two_units_at_most(self):
        self.assertEqual([table.duration(s) for s in (0.4, 59.4, 185, 7800)],
                         ["0 s", "59 s", "3 min 05 s", "2 h 10 min"])


if __name__ == "__main__":
    unittest.main(verbosity=2)
