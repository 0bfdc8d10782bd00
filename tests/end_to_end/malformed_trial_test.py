"""Puts every kind of malformed log before the command and the server behind it: each is refused by
row and column, all faults of a file at once, and nothing is stored.

Usage: malformed_trial_test.py BIN_FOLDER SOURCE_FOLDER. Needs PYTHONPATH with the package gaitshelf.
"""
import json
import unittest

import numpy as np

import gaitshelf
from gaitshelf.v1 import trial_pb2

from house import House

ROBOT = "deploy/demo/weevil-lumped.robot.textproto"
SURFACE = "deploy/demo/liner-felt.surface.textproto"

HEADING = "time [ms],front-left lift [um],front-left lift voltage [V]\n"
# What is wrong, the file, what the refusal says.
MALFORMED = [
    ("nothing in it", "", ["no rows"]),
    ("a heading alone", HEADING, ["no rows"]),
    ("one row", HEADING + "0,1,2\n", ["1 rows", "at least 2"]),
    ("no heading", "0,1,100\n1,2,100\n", ["columns[0].label", '"0"']),
    ("binary garbage", b"\x7fELF\x02\x01\x01\x00\x00\x00\n\x00\x00\n", ["line 1", "is no text"]),
    ("garbage in a row", HEADING.encode() + b"0,1,100\n1,\x80\x81,100\n",
     ["row 2 (line 3)", "is no text"]),
    ("semicolons", "time [ms];front-left lift [um]\n0;1\n1;2\n", ["line 1", "no comma"]),
    ("a name that nothing has", HEADING.replace("front-left lift [", "middle lift [")
     + "0,1,100\n1,2,100\n", ["columns[1].label", "middle lift"]),
    ("an unknown quantity", HEADING.replace("lift voltage [V]", "charm [V]")
     + "0,1,100\n1,2,100\n", ["columns[2].label", "charm"]),
    ("no unit", HEADING.replace(" [um]", "") + "0,1,100\n1,2,100\n",
     ["columns[1].label", "front-left lift"]),
    ("an unknown unit", HEADING.replace("[um]", "[furlong]") + "0,1,100\n1,2,100\n",
     ["columns[1].label", "furlong"]),
    ("a unit of another kind", HEADING.replace("[um]", "[V]") + "0,1,100\n1,2,100\n",
     ["columns[1].label", "front-left lift [V]"]),
    ("a column twice", HEADING.replace("front-left lift voltage [V]", "front-left lift [mm]")
     + "0,1,1\n1,2,2\n", ["columns[2].label", "measured by columns[1] already"]),
    ("no column that the kind needs", "time [ms],front-left lift voltage [V]\n0,100\n1,100\n",
     ["groups", "front-left lift [um]"]),
    ("no time", "front-left lift [um]\n1\n2\n", ["sample_rate_hz", "missing"]),
    ("a time and a rate", "# rate: 1kHz\n" + HEADING + "0,1,100\n1,2,100\n",
     ["sample_rate_hz", "must be 0 when a column holds the time"]),
    ("a rate of nothing", "# rate: fast\nfront-left lift [um]\n1\n2\n", ["line 1", "rate"]),
    ("a rate that no log has", "# rate: 1e9Hz\nfront-left lift [um]\n1\n2\n",
     ["sample_rate_hz", "1e+09"]),
    ("a rate below nothing", "# rate: -5Hz\nfront-left lift [um]\n1\n2\n", ["-5"]),
    ("a clock that is none", "# clock: wall\n" + HEADING + "0,1,100\n1,2,100\n",
     ["line 1", "clock: 'wall'"]),
    ("a name that is none", "# name: My Log\n" + HEADING + "0,1,100\n1,2,100\n",
     ["groups[0].name", "My Log"]),
    ("text in a number", HEADING + "0,1,100\n1,much,100\n",
     ["row 2 (line 3)", "column 'front-left lift [um]'", "'much' is no number"]),
    ("two points in a number", HEADING + "0,1,100\n1,1.2.3,100\n",
     ["row 2 (line 3)", "column 'front-left lift [um]'", "'1.2.3'"]),
    ("a number beyond all numbers", HEADING + "0,1,100\n1,1e999,100\n",
     ["row 2 (line 3)", "column 'front-left lift [um]'", "'1e999'"]),
    ("a decimal comma", HEADING + "0,1,5,100\n1,2,100\n", ["row 1 (line 2)", "4 cells must be 3"]),
    ("a short row", HEADING + "0,1,100\n1,2\n2,3,100\n", ["row 2 (line 3)", "2 cells must be 3"]),
    ("a file cut within a row", HEADING + "0,1,100\n1,2,100\n2,3", ["row 3 (line 4)", "2 cells"]),
    ("infinity", HEADING + "0,1,100\n1,inf,100\n",
     ["row 2 column 'front-left lift [um]'", "is inf; must be"]),
    ("less than minus infinity has", HEADING + "0,1,100\n1,2,-inf\n",
     ["row 2 column 'front-left lift voltage [V]'", "is -inf; must be"]),
    ("a value of another unit", HEADING + "0,1,100\n1,2e9,100\n",
     ["row 2 column 'front-left lift [um]'", "check the unit"]),
    ("no time in a row", HEADING + "0,1,100\n,2,100\n2,3,100\n",
     ["row 2 column 'time [ms]'", "may not be missing"]),
    ("a time that is no number", HEADING + "0,1,100\nnan,2,100\n2,3,100\n",
     ["row 2 column 'time [ms]'", "may not be missing"]),
    ("infinite time", HEADING + "0,1,100\n1,2,100\ninf,3,100\n", ["row 3 column 'time [ms]'"]),
    ("time that goes back", HEADING + "0,1,100\n5,2,100\n3,3,100\n",
     ["row 3 column 'time [ms]'", "is 3; must be later than the row before, which is at 5"]),
    ("a time twice", HEADING + "0,1,100\n1,2,100\n1,2,100\n",
     ["row 3 column 'time [ms]'", "is 1; must be later than the row before, which is at 1"]),
]


class MalformedTrialTest(unittest.TestCase):
    def setUp(self):
        self.house = House()
        self.house.start()
        self.addCleanup(lambda: self.assertEqual(self.house.stop(), 0))
        for words in (("robot", "put", ROBOT), ("surface", "put", SURFACE)):
            code, _, err = self.house.command(*words)
            self.assertEqual(code, 0, err)
        self.log = self.house.path / "log.csv"

    def put(self, text, *flags):
        self.log.write_bytes(text if isinstance(text, bytes) else text.encode())
        return self.house.command("trial", "put", str(self.log), *flags)

    def stored(self):
        code, out, err = self.house.command("trial", "list", "--json")
        self.assertEqual(code, 0, err)
        return json.loads(out).get("trials", [])

    def test_every_kind_is_refused_by_row_and_column(self):
        for kind, text, words in MALFORMED:
            with self.subTest(kind=kind):
                code, out, err = self.put(text, "--kind", "ring-down", "--robot", "weevil-lumped")
                self.assertEqual(code, 2, out + err)
                for word in words:
                    self.assertIn(word, err)
        self.assertEqual(self.stored(), [])
        code, _, err = self.put(HEADING + "0,1,100\n1,2,100\n", "--kind", "ring-down", "--robot",
                                "weevil-lumped")
        self.assertEqual(code, 0, err)  # what they were made of is a log
        self.assertEqual(len(self.stored()), 1)

    def test_all_faults_of_a_log_are_told_at_once(self):
        code, _, err = self.put(HEADING + "0,x,y\n1,2\n", "--kind", "ring-down", "--robot",
                                "weevil-lumped")
        self.assertEqual(code, 2)
        for word in ("'x'", "'y'", "row 2 (line 3)"):
            self.assertIn(word, err)
        code, _, err = self.put(HEADING + "5,inf,100\n4,1,1e7\n", "--kind", "ring-down", "--robot",
                                "weevil-lumped")
        self.assertEqual(code, 2)
        for word in ("row 1 column 'front-left lift [um]'", "row 2 column 'time [ms]'",
                     "row 2 column 'front-left lift voltage [V]'"):
            self.assertIn(word, err)

    def test_gaps_missing_samples_and_repetitions_are_no_faults(self):
        code, _, err = self.put(HEADING + "0,1,100\n1,,100\n60000,nan,\n", "--kind", "ring-down",
                                "--robot", "weevil-lumped")
        self.assertEqual(code, 0, err)
        code, _, err = self.put("# clock: bench\ntilt [deg]\n24.1\n", "--kind", "tilt", "--surface",
                                "liner-felt")
        self.assertEqual(code, 0, err)
        code, _, err = self.put("# clock: bench\ntilt [deg]\n91\n", "--kind", "tilt", "--surface",
                                "liner-felt")
        self.assertEqual(code, 2)
        self.assertIn("row 1 column 'tilt [deg]'", err)

    def test_python_is_refused_alike(self):
        trial = trial_pb2.Trial(kind=trial_pb2.TRIAL_KIND_RING_DOWN, robot="weevil-lumped")
        with gaitshelf.connect(self.house.address) as library:
            with self.assertRaisesRegex(gaitshelf.InvalidRequest, "row 3 column 'time \\[s\\]'"):
                library.put_trial(trial, [gaitshelf.TrialLog("log", "on-board", {
                    "time [s]": np.array([0.0, 1.0, 1.0]),
                    "front-left lift [um]": np.array([0.0, np.nan, 2.0])})])
            self.assertEqual(library.trials(), [])


if __name__ == "__main__":
    unittest.main(argv=["malformed_trial_test"], verbosity=2)
