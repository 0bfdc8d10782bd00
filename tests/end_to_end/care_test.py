"""Looks after a library with the command while the server runs, as its keeper would.

Usage: care_test.py BIN_FOLDER SOURCE_FOLDER. Needs PYTHONPATH with the package gaitshelf.

Covers clients/cli/bundle_verbs.cc
Covers clients/cli/care_verbs.cc
"""
import getpass
import json
import shutil
import unittest
from pathlib import Path

from house import House

ORDER = ["order", "--robot", "weevil-lumped", "--surface", "liner-felt", "--frequency", "12Hz",
         "--advance", "9mm"]


class CareTest(unittest.TestCase):
    def setUp(self):
        self.house = self.start_house()
        for kind, name in (("robot", "weevil-lumped"), ("surface", "liner-felt")):
            self.run_ok("put", kind=kind, name=name)
        self.gait = json.loads(self.order())["gait"]["name"]

    def start_house(self):
        house = House()
        house.start()
        self.addCleanup(lambda: self.assertEqual(house.stop(), 0))
        return house

    def run_ok(self, *words, kind=None, name=None, house=None):
        if kind is not None:
            words = (kind, *words, f"deploy/demo/{name}.{kind}.textproto")
        code, out, err = (house or self.house).command(*words)
        self.assertEqual(code, 0, err)
        return out

    def order(self, house=None):
        return self.run_ok(*ORDER, "--json", "--quiet", house=house)

    def refuse(self, code, text, *words):
        found, _, err = self.house.command(*words)
        self.assertEqual(found, code, err)
        self.assertIn(text, err)

    def test_a_backup_made_while_the_server_runs_serves_again(self):
        copy = Path(self.run_ok("backup").splitlines()[0])
        other = House()
        shutil.copy(copy, other.path / "library.db")
        other.start()
        self.addCleanup(other.stop)
        self.assertEqual(json.loads(self.order(other))["gait"]["name"], self.gait)

    def test_a_bundle_carries_gaits_to_another_library(self):
        bundle = str(self.house.path / "weevil.bundle")
        self.run_ok("bundle", "export", bundle, "--robot", "weevil-lumped", "--good")
        other = self.start_house()
        for expected in ("1 gaits and 2 versions", "0 gaits and 0 versions"):
            self.assertIn(expected, self.run_ok("bundle", "import", bundle, house=other))
        self.assertEqual(json.loads(self.order(other))["gait"]["name"], self.gait)
        torn = Path(bundle + ".torn")
        torn.write_bytes(Path(bundle).read_bytes()[:-1])
        self.refuse(2, "ends early", "bundle", "import", str(torn))
        self.refuse(2, "cannot read", "bundle", "import", bundle + ".none")
        self.refuse(2, "export FILE or import FILE", "bundle")
        self.refuse(4, "g-0", "bundle", "export", bundle + ".2", "--gaits", "g-0")
        self.assertFalse(Path(bundle + ".2").exists())

    def test_a_retired_gait_is_solved_anew_and_tidied_away(self):
        self.refuse(4, "g-0", "retire", "g-0", "--reason", "none")
        self.run_ok("retire", self.gait, "--reason", "made with a bent leg")
        self.assertIn("made with a bent leg", self.run_ok("retired"))
        self.assertNotIn(self.gait, self.run_ok("gaits"))
        self.assertIn(self.gait, self.run_ok("show", self.gait))
        self.run_ok("reinstate", self.gait)
        self.assertEqual(json.loads(self.order())["gait"]["name"], self.gait)
        self.run_ok("retire", self.gait, "--reason", "made with a bent leg")
        self.assertIn("give --remove", self.run_ok("tidy", "--days", "0"))
        self.run_ok("show", self.gait)
        self.assertIn(self.gait, self.run_ok("tidy", "--days", "0", "--remove"))
        self.refuse(4, self.gait, "show", self.gait)
        self.refuse(2, "no whole number", "tidy", "--days", "soon")

    def test_the_log_says_who_did_what(self):
        log = self.run_ok("changes")
        for words in ("put robot weevil-lumped", "order job j-1", f"store gait {self.gait}"):
            self.assertIn(words, log)
        self.assertIn(getpass.getuser(), log)
        last = json.loads(self.run_ok("changes", "--last", "1", "--json"))["changes"]
        self.assertEqual([change["kind"] for change in last], ["CHANGE_KIND_STORE_GAIT"])


if __name__ == "__main__":
    unittest.main(argv=["care_test"], verbosity=2)
