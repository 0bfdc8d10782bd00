"""Runs every Python example and every Python snippet of README.md against the real server.

Usage: python_examples_test.py BIN_FOLDER SOURCE_FOLDER. Needs PYTHONPATH with the package gaitshelf.
"""
import re
import subprocess
import tempfile
import unittest
from pathlib import Path

import numpy as np
from PIL import Image

import gaitshelf
from gaitshelf import plots, stick
from house import SOLVE_S, SOURCE, HouseTest

EXAMPLES = SOURCE / "clients" / "python" / "examples"
DEMO = SOURCE / "deploy" / "demo"


def snippets(path):
    return re.findall(r"^```python\n(.*?)^```", path.read_text(encoding="utf-8"),
                      re.MULTILINE | re.DOTALL)


class PythonExamplesTest(HouseTest):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.library = gaitshelf.connect(cls.house.address)
        cls.addClassCleanup(cls.library.close)
        cls.robots = [cls.library.put_robot(path).robot.name
                      for path in sorted(DEMO.glob("*.robot.textproto"))]
        for path in DEMO.glob("*.surface.textproto"):
            cls.library.put_surface(path)

    def run_script(self, script):
        """Runs a script in a folder of its own; returns what it printed, and the folder."""
        folder = Path(tempfile.mkdtemp(dir=self.house.path))
        process = subprocess.run(["/usr/bin/python3", "-B", "-c", script], cwd=folder,
                                 env=self.house.environment(), capture_output=True, text=True,
                                 timeout=SOLVE_S, check=False)
        self.assertEqual(process.returncode, 0, process.stderr)
        return process.stdout, folder

    def run_example(self, name):
        return self.run_script((EXAMPLES / f"{name}.py").read_text(encoding="utf-8"))

    def check_picture(self, path):
        """Checks that a picture is not empty: it has ink, and not too much of it."""
        with Image.open(path) as image:
            grey = np.asarray(image.convert("L"))
        self.assertGreater(grey.shape[1], 500)
        self.assertGreater((grey < 100).mean(), 0.005, path)
        self.assertLess((grey < 250).mean(), 0.5, path)

    def weevil(self):
        return self.library.order("weevil", "duct-steel", frequency_hz=12, advance_m=0.009)

    def test_every_example_has_a_test(self):
        tested = {name.removeprefix("test_example_") for name in dir(self)}
        self.assertLessEqual({path.stem for path in EXAMPLES.glob("*.py")}, tested)

    def test_every_snippet_of_the_readme_runs(self):
        found = snippets(SOURCE / "README.md")
        self.assertEqual(len(found), 2)
        printed = ""
        drawn = []
        for script in found:
            with self.subTest(script=script):
                out, folder = self.run_script(script)
                printed += out
                drawn += folder.glob("*.png")
        self.assertIn(f"{self.weevil().name} good []", printed)
        self.assertEqual([path.name for path in drawn], ["footfalls.png"])
        self.check_picture(drawn[0])

    def test_example_first_plot(self):
        lines = (EXAMPLES / "first_plot.py").read_text(encoding="utf-8").splitlines()
        self.assertLessEqual(len(lines), 10)
        _, folder = self.run_example("first_plot")
        self.check_picture(folder / "footfalls.png")

    def test_example_pictures(self):
        _, folder = self.run_example("pictures")
        for name in ("legs", "forces", "body", "spread"):
            self.check_picture(folder / f"{name}.png")
        self.assertIn("<svg", (folder / "footfalls.svg").read_text(encoding="utf-8"))
        with Image.open(folder / "gait.gif") as image:
            self.assertEqual(image.n_frames, 40)

    def test_example_trial(self):
        out, folder = self.run_example("trial")
        stride_mm, planned_mm = map(float, re.findall(r"(\d\.\d\d) mm", out))
        self.assertAlmostEqual(stride_mm, planned_mm, delta=0.1)
        self.check_picture(folder / "trial.png")

    def test_example_arrays(self):
        out, _ = self.run_example("arrays")
        self.assertEqual(len(re.findall(r"lift \d\.\d\d mm, swing \d\.\d\d mm", out)), 4)
        self.assertRegex(out, r"friction used: \d+% of its limit")

    def test_example_sweep(self):
        out, folder = self.run_example("sweep")
        self.assertIn("100% 4/4", out)
        self.assertEqual(len(re.findall(r"at (?:12|28) Hz good$", out, re.MULTILINE)), 4)
        self.check_picture(folder / "map.png")
        self.check_picture(folder / "spread.png")

    def test_example_audit(self):
        name = self.weevil().name
        out, _ = self.run_example("audit")
        part = out.split(name)[1].split("<Gait")[0]
        self.assertRegex(part, r"worst law: \w+, \d\.\de-\d\d of its scale")
        self.assertRegex(part, r"replayed \d+\.\d% of what was planned")

    def test_feet_of_the_stick_figure_are_where_the_solver_has_them(self):
        # Heights and slip come from the solver; the stick figure from the description, loops of
        # linkages closed again by this package.
        self.assertGreaterEqual(len(self.robots), 2)
        for robot in self.robots:
            with self.subTest(robot=robot):
                gait = self.library.order(robot, "liner-felt", frequency_hz=12, advance_m=0.006)
                foot_m = stick.foot_position_m(gait, self.library.robot_of(gait))
                # Rounding, and the fit by which the solver knows a linkage: 1e-13 m when written.
                np.testing.assert_allclose(foot_m[:, :, 2], gait.foot_gap_m, rtol=0, atol=1e-10)
                # A foot that has more than a tenth of the weight on it slides no further than the
                # plan says of the whole cycle.
                next_m = np.concatenate([foot_m[1:], foot_m[:1] + [gait.advance_m, 0, 0]])
                way_m = np.linalg.norm((next_m - foot_m)[:, :, :2], axis=2)
                weight_n = gait.foot_force_n[:, :, 2].sum(axis=1).mean()
                bears = gait.foot_force_n[:, :, 2] > 0.1 * weight_n
                slide_m = np.where(bears, way_m, 0).sum(axis=0)
                self.assertTrue((slide_m <= gait.slip_m + 1e-6).all(), (slide_m, gait.slip_m))
                self.assertGreater(np.ptp(foot_m[:, :, 0], axis=0).min(), 1e-3)  # and they do move

    def test_contact_of_the_arrays_is_that_of_a_stream(self):
        gait = self.weevil()
        blocks = list(self.library.stream(gait.name, 0.5, sample_rate_hz=4000, is_preview=True,
                                          is_unpaced=True))
        phase = np.concatenate([block.phase_ratio for block in blocks])
        contact = np.concatenate([block.is_contact for block in blocks])
        # Ramps have no phase; at a knot itself rounding may choose either side.
        place = phase * gait.knot_count
        kept = (phase >= 0) & (abs(place - np.round(place)) > 1e-6)
        self.assertGreater(kept.sum(), 500)
        np.testing.assert_array_equal(contact[kept], gait.is_contact[place[kept].astype(int)])

    def test_bars_of_a_real_gait_are_its_loads(self):
        gait = self.weevil()
        axes = plots.footfalls(gait).axes[0]
        middle = (np.arange(gait.knot_count) + 0.5) / gait.knot_count
        self.assertEqual([c.get_label() for c in axes.collections], gait.foot_names)
        for foot, collection in enumerate(axes.collections):
            spans = [path.vertices[:, 0] for path in collection.get_paths()]
            covered = np.any([(middle > span.min()) & (middle < span.max()) for span in spans], axis=0)
            np.testing.assert_array_equal(covered, gait.is_contact[:, foot])
        # A gait of four legs that advances has every foot both down and up.
        duty_ratio = gait.is_contact.mean(axis=0)
        self.assertGreater(duty_ratio.min(), 0.2)
        self.assertLess(duty_ratio.max(), 0.9)

    def test_drawn_forces_of_a_real_gait_stay_below_the_drawn_limit(self):
        gait = self.weevil()
        figure = plots.contact_forces(gait, self.library.surface_of(gait))
        weight_mn = 1.9e-3 * 9.81e3
        for axes in figure.axes[1::2]:
            _, limit, force = (patch.get_data().values for patch in axes.patches)
            self.assertLessEqual((force - limit).max(), 1e-5 * weight_mn)
            self.assertGreater(limit.max(), 0.18 * weight_mn / 4)


if __name__ == "__main__":
    unittest.main(argv=["python_examples_test.py"], verbosity=2)
