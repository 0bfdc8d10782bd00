"""Orders that need more than one surface or gait, from the command to the replay.

Usage: tasks_test.py BIN_FOLDER SOURCE_FOLDER
"""
import json
import re
import unittest

from house import SOURCE, HouseTest

DEMO = SOURCE / "deploy/demo"
SURFACES = ("duct-steel", "liner-felt", "grit-tape")
LUMPED = ["order", "--robot", "weevil-lumped", "--quiet", "--json"]


class TasksTest(HouseTest):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.ask("robot", "put", str(DEMO / "weevil-lumped.robot.textproto"))
        for surface in SURFACES:
            cls.ask("surface", "put", str(DEMO / f"{surface}.surface.textproto"))

    def order(self, *words):
        """Returns the summary of the gait that an order comes to."""
        return json.loads(self.ask(*LUMPED, *words))["gait"]

    def test_one_gait_for_several_surfaces(self):
        task = ["--frequency", "12Hz", "--advance", "8mm"]
        gait = self.order("--surface", "grit-tape", "--also-on", "duct-steel,liner-felt", *task)
        self.assertEqual((gait["surface"], gait["also_on"]), ("duct-steel", ["grit-tape", "liner-felt"]))
        text = self.ask("show", gait["name"])
        self.assertIn("weevil-lumped on duct-steel, grit-tape and liner-felt", text)
        for surface in SURFACES:
            self.assertRegex(text, rf"{surface} +good .* hold\n")
        self.assertRegex(self.ask("gaits"), rf"{gait['name']} +duct-ste\+2 ")
        # Whichever surface is named first, it is the same gait, and none of these alone.
        again = self.order("--surface", "liner-felt", "--also-on", "duct-steel,grit-tape", *task)
        self.assertEqual(again["name"], gait["name"])
        alone = self.order("--surface", "duct-steel", *task)
        self.assertNotEqual(alone["name"], gait["name"])
        self.assertFalse(alone["also_on"])

    def test_surfaces_that_do_not_go_together_are_named(self):
        code, _, err = self.house.command(*LUMPED, "--surface", "duct-steel", "--frequency", "12Hz",
                                          "--advance", "8mm", "--also-on", "liner-felt,liner-felt")
        self.assertEqual(code, 2)
        self.assertIn("also_on[1]", err)

    def test_a_transition_leads_from_one_gait_into_another(self):
        surface = ["--surface", "liner-felt"]
        slow = self.order(*surface, "--frequency", "12Hz", "--advance", "9mm")["name"]
        fast = self.order(*surface, "--frequency", "28Hz", "--advance", "9mm")["name"]
        way = self.order(*surface, "--from", f"{slow}@0", "--to", f"{fast}@0", "--within", "3")
        self.assertEqual(way["verdict"], "VERDICT_GOOD")
        text = self.ask("show", way["name"])
        share = float(re.search(r"([0-9.]+) of what that gait makes by itself", text)[1])
        self.assertAlmostEqual(share, 1.0, delta=0.1)
        self.assertTrue(self.ask("stream", way["name"], "--preview", "--seconds", "1"))


if __name__ == "__main__":
    unittest.main(argv=["tasks_test"])
