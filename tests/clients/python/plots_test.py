"""Tests that pictures show what the arrays hold, labelled with units, and can be told apart in grey."""
import os
import tempfile
import unittest

import matplotlib
import numpy as np
from PIL import Image, ImageSequence

import gaitshelf
from gaitshelf import plots, stick
from gaitshelf.plots import style
from gaitshelf.v1 import audit_pb2, gait_pb2, model_service_pb2, robot_pb2, surface_pb2

KNOTS = 8
LEGS = ["left", "right"]
# Loads of the two feet from knot to knot, N: left stands over the seam, right in the middle.
LOAD_N = np.array([[2, 0], [2, 0], [0, 0], [0, 3], [0, 3], [0, 3], [1, 0], [1, 0]]) * 1e-3


def make_message(frequency_hz=10.0, surface="felt", is_good=True):
    gait = gait_pb2.Gait(name="g-1", robot="beetle", surface=surface, is_periodic=True,
                         stride_frequency_hz=frequency_hz, knot_count=KNOTS,
                         knot_period_s=1 / frequency_hz / KNOTS, advance_m=0.008, leg_names=LEGS,
                         foot_names=LEGS)
    gait.task.advance.advance_m = 0.009
    phase = 2 * np.pi * np.arange(KNOTS) / KNOTS
    gait.body_position_m[:] = np.stack(
        [0.001 * np.arange(KNOTS), 1e-3 * np.sin(phase), 0.01 + 1e-3 * np.cos(phase)], 1).ravel()
    gait.body_attitude_rad[:] = np.stack([0.1 * np.sin(phase), 0 * phase, 0 * phase], 1).ravel()
    gait.leg_position_m[:] = np.stack([0.001 * np.sin(phase), 0.002 * np.cos(phase),
                                       0.003 * np.sin(phase), 0.004 * np.cos(phase)], 1).ravel()
    gait.voltage_v[:] = [100.0] * (KNOTS * 4)
    force_n = np.zeros((KNOTS, 2, 3))
    force_n[:, :, 2] = LOAD_N
    force_n[:, :, 0] = 0.3 * LOAD_N
    force_n[:, :, 1] = 0.4 * LOAD_N
    gait.foot_force_n[:] = force_n.ravel()
    gait.foot_gap_m[:] = np.where(LOAD_N > 0, 0, 1e-3).ravel()
    gait.audit.verdict = audit_pb2.VERDICT_GOOD if is_good else audit_pb2.VERDICT_FAILED
    gait.audit.replay.advance_m = 0.007
    gait.audit.spread.replay_count = 16
    gait.audit.spread.mean_m = 0.0072
    gait.audit.spread.deviation_m = 0.0003
    gait.audit.spread.p05_m = 0.0066
    gait.audit.hand_tuned.advance_m = 0.005
    return gait


def make_gait(*args, **kwargs):
    return gaitshelf.Gait(make_message(*args, **kwargs))


def make_hop():
    message = make_message()
    message.is_periodic = False
    message.stride_frequency_hz = 0
    message.knot_period_s = 0.01
    message.task.hop.rise_m = 0.009
    message.audit.ClearField("hand_tuned")
    message.audit.replay.rise_m = 0.0085
    return gaitshelf.Gait(message)


def make_robot():
    robot = robot_pb2.Robot(name="beetle")
    for name, side in zip(LEGS, (1, -1)):
        leg = robot.legs.add(name=name)
        leg.lumped.foot_m[:] = [0, 0.01 * side, -0.01]
        leg.lumped.lift.direction_ratio[:] = [0, 0, 1]
        leg.lumped.swing.direction_ratio[:] = [1, 0, 0]
    robot.body.size_m[:] = [0.03, 0.012, 0.006]
    return robot


def texts(figure):
    return " ".join(text.get_text() for text in figure.findobj(matplotlib.text.Text))


def lines(axes):
    return {line.get_label(): line for line in axes.lines}


def bars(axes):
    """Returns start and end of each bar of each row of a footfall diagram."""
    rows = {}
    for collection in axes.collections:
        spans = [(path.vertices[:, 0].min(), path.vertices[:, 0].max())
                 for path in collection.get_paths()]
        rows[collection.get_label()] = spans
    return rows


class FootfallsTest(unittest.TestCase):
    def test_bars_are_where_the_feet_bear_load(self):
        figure = plots.footfalls(make_gait())
        rows = bars(figure.axes[0])
        self.assertEqual(rows, {"left": [(0, 0.25), (0.75, 1)], "right": [(0.375, 0.75)]})
        self.assertIn("50%", texts(figure))
        self.assertIn("38%", texts(figure))  # 3 of 8
        self.assertEqual(figure.axes[0].get_xlabel(), "phase of the cycle (1 is 100 ms)")
        self.assertEqual([t.get_text() for t in figure.axes[0].get_yticklabels()], LEGS)
        # The first foot is the topmost row.
        low, high = figure.axes[0].get_ylim()
        self.assertGreater(low, high)

    def test_hop_is_drawn_over_its_time_to_the_last_knot(self):
        figure = plots.footfalls(make_hop())
        axes = figure.axes[0]
        self.assertEqual(axes.get_xlabel(), "time (ms)")
        np.testing.assert_allclose(axes.get_xlim(), (0, 70))
        np.testing.assert_allclose(bars(axes)["left"], [(0, 20), (60, 70)])

    def test_gait_that_is_not_good_says_so(self):
        self.assertNotIn("not good", texts(plots.footfalls(make_gait())))
        self.assertIn("not good: do not run", texts(plots.footfalls(make_gait(is_good=False))))


class LegTrajectoriesTest(unittest.TestCase):
    def test_lines_are_the_coordinates_in_mm_closed_at_the_end_of_the_cycle(self):
        gait = make_gait()
        figure = plots.leg_trajectories(gait)
        self.assertEqual([axes.get_ylabel() for axes in figure.axes],
                         ["lift (mm)", "swing (mm)"] * 2)
        self.assertEqual([axes.get_title(loc="left") for axes in figure.axes],
                         ["left", "left", "right", "right"])
        for number, axes in enumerate(figure.axes):
            line = max(axes.lines, key=lambda line: len(line.get_xdata()))
            expected = gait.leg_position_m[:, number] * 1e3
            np.testing.assert_allclose(line.get_ydata(), [*expected, expected[0]])
            np.testing.assert_allclose(line.get_xdata(), np.arange(KNOTS + 1) / KNOTS)
        self.assertIn("phase of the cycle", figure.axes[-1].get_xlabel())

    def test_stance_is_shaded(self):
        figure = plots.leg_trajectories(make_gait())
        shaded = [(patch.get_xy()[:, 0].min(), patch.get_xy()[:, 0].max())
                  for patch in figure.axes[2].patches]
        self.assertEqual(shaded, [(0.375, 0.75)])

    def test_gait_without_legs_is_refused(self):
        message = make_message()
        message.ClearField("leg_names")
        message.ClearField("leg_position_m")
        with self.assertRaisesRegex(ValueError, "no legs"):
            plots.leg_trajectories(gaitshelf.Gait(message))


class ContactForcesTest(unittest.TestCase):
    def test_steps_are_forces_in_mn_and_the_limit_is_friction_times_normal_force(self):
        surface = surface_pb2.Surface(name="felt", friction_coefficient=0.6)
        figure = plots.contact_forces(make_gait(), surface)
        for foot in range(2):
            normal, tangential = figure.axes[2 * foot:2 * foot + 2]
            self.assertEqual(normal.get_ylabel(), "normal (mN)")
            self.assertEqual(tangential.get_ylabel(), "tangential (mN)")
            load_mn = LOAD_N[:, foot] * 1e3
            np.testing.assert_allclose(normal.patches[0].get_data().values, load_mn)
            np.testing.assert_allclose(normal.patches[0].get_data().edges,
                                       np.arange(KNOTS + 1) / KNOTS)
            area, limit, force = (patch.get_data().values for patch in tangential.patches)
            np.testing.assert_allclose(limit, 0.6 * load_mn)
            np.testing.assert_allclose(area, limit)
            np.testing.assert_allclose(force, 0.5 * load_mn)  # the 3-4-5 triangle
        self.assertIn("friction limit, 0.6 times the normal force", texts(figure))

    def test_limit_and_force_differ_in_line_style(self):
        surface = surface_pb2.Surface(name="felt", friction_coefficient=0.6)
        _, limit, force = plots.contact_forces(make_gait(), surface).axes[1].patches
        self.assertNotEqual(limit.get_linestyle(), force.get_linestyle())

    def test_another_surface_is_refused(self):
        with self.assertRaisesRegex(ValueError, "surface ice is not felt"):
            plots.contact_forces(make_gait(), surface_pb2.Surface(name="ice"))


class BodyPathTest(unittest.TestCase):
    def test_path_goes_on_by_the_advance(self):
        gait = make_gait()
        side, top, angles = plots.body_path(gait).axes
        line = side.lines[0]
        self.assertAlmostEqual(line.get_xdata()[-1] - line.get_xdata()[0], 8)
        np.testing.assert_allclose(line.get_ydata()[:-1], gait.body_position_m[:, 2] * 1e3)
        np.testing.assert_allclose(top.lines[0].get_ydata()[:-1], gait.body_position_m[:, 1] * 1e3)
        self.assertEqual((side.get_xlabel(), side.get_ylabel()),
                         ("way forward x (mm)", "height z (mm)"))
        self.assertEqual(top.get_ylabel(), "sideways y (mm)")
        self.assertEqual(angles.get_ylabel(), "angle (°)")
        np.testing.assert_allclose(lines(angles)["roll"].get_ydata()[2], np.rad2deg(0.1))

    def test_path_of_a_turn_ends_on_its_arc(self):
        message = make_message()
        message.turn_rad, message.advance_m = np.pi / 2, np.pi * 1e-3  # radius 2 mm
        message.body_position_m[:3] = [0, 0, 0.01]
        gait = gaitshelf.Gait(message)
        np.testing.assert_allclose(gait.moved_on(np.array([0, 0, 0.01])), [2e-3, 2e-3, 0.01])
        np.testing.assert_allclose(gait.moved_on(gait.moved_on(np.array([1e-3, 0, 0]))),
                                   gait.moved_on(np.array([1e-3, 0, 0]), 2))
        _, top, angles = plots.body_path(gait).axes
        self.assertAlmostEqual(top.lines[0].get_ydata()[-1], 2)
        self.assertAlmostEqual(lines(angles)["yaw"].get_ydata()[-1], 90)

    def test_lines_differ_in_style_and_marker(self):
        angles = plots.body_path(make_gait()).axes[2]
        drawn = [(line.get_linestyle(), line._dash_pattern[1] or (), line.get_marker())
                 for line in angles.lines]
        self.assertEqual(len(set(map(str, drawn))), 3)
        self.assertEqual(len({line.get_marker() for line in angles.lines}), 3)

    def test_rounding_is_not_blown_up(self):
        message = make_message()
        message.body_attitude_rad[:] = [1e-9] * (3 * KNOTS)
        low, high = plots.body_path(gaitshelf.Gait(message)).axes[2].get_ylim()
        self.assertGreater(high - low, 0.1)

    def test_hop_is_drawn_over_time(self):
        height, level, _ = plots.body_path(make_hop()).axes
        self.assertEqual(height.get_xlabel(), "time (ms)")
        self.assertEqual(list(lines(level)), ["forward x", "sideways y"])


class SpreadTest(unittest.TestCase):
    def test_marks_are_where_the_audit_puts_them_in_mm(self):
        figure = plots.spread(make_gait())
        axes = figure.axes[0]
        marks = {label: line.get_xdata()[0] for label, line in lines(axes).items()}
        self.assertEqual({label: round(mark, 9) for label, mark in marks.items()},
                         {"planned": 8, "replayed": 7, "5th percentile": 6.6, "hand-tuned": 5})
        bar = axes.patches[0]
        self.assertAlmostEqual(bar.get_x(), 6.9)
        self.assertAlmostEqual(bar.get_width(), 0.6)
        self.assertEqual(axes.get_xlabel(), "stride: way per cycle, or rise of a hop (mm)")
        self.assertIn("16 replays", texts(figure))
        self.assertEqual(len({line.get_marker() + str(line.get_markerfacecolor())
                              for line in axes.lines}), 4)

    def test_hop_shows_its_rise_and_has_no_rival(self):
        marks = lines(plots.spread([make_hop()]).axes[0])
        self.assertAlmostEqual(marks["replayed"].get_xdata()[0], 8.5)
        self.assertNotIn("hand-tuned", marks)

    def test_gaits_without_spread_are_left_out(self):
        message = make_message()
        message.audit.ClearField("spread")
        bare = gaitshelf.Gait(message)
        axes = plots.spread([bare, make_gait(12), make_gait(20)]).axes[0]
        self.assertEqual([t.get_text() for t in axes.get_yticklabels()],
                         ["felt, 9 mm at 12 Hz", "felt, 9 mm at 20 Hz"])
        with self.assertRaisesRegex(ValueError, "no gait has a spread"):
            plots.spread(bare)


class GaitMapTest(unittest.TestCase):
    def setUp(self):
        self.gaits = [make_gait(20, "felt"), make_gait(3, "felt"), make_gait(3, "duct"),
                      make_gait(12, "felt", is_good=False)]

    def test_points_are_strides_over_frequency_by_surface(self):
        duct, felt = plots.gait_map(self.gaits).axes
        self.assertEqual(duct.get_ylabel(), "duct\nstride (mm)")
        self.assertEqual(felt.get_ylabel(), "felt\nstride (mm)")
        self.assertEqual(felt.get_xlabel(), "stride frequency (Hz)")
        drawn = lines(felt)
        self.assertEqual(drawn["planned"].get_xdata().tolist(), [3, 12, 20])
        self.assertEqual(drawn["replayed"].get_xdata().tolist(), [3, 20])
        self.assertEqual(drawn["replayed, failed its audit"].get_xdata().tolist(), [12])
        np.testing.assert_allclose(drawn["planned"].get_ydata(), 8)
        np.testing.assert_allclose(drawn["replayed"].get_ydata(), 7)
        np.testing.assert_allclose(drawn["hand-tuned, replayed"].get_ydata(), 5)
        self.assertEqual(len({line.get_marker() + str(line.get_markerfacecolor())
                              for line in drawn.values()}), 4)

    def test_summaries_make_the_same_map(self):
        summary = gait_pb2.GaitSummary(robot="beetle", surface="felt", stride_frequency_hz=3,
                                       verdict=audit_pb2.VERDICT_GOOD, advance_m=0.008,
                                       replayed_advance_m=0.007, hand_tuned_advance_m=0.005)
        summary.task.advance.advance_m = 0.009
        hop = gait_pb2.GaitSummary(robot="beetle", surface="felt")
        hop.task.hop.rise_m = 0.009
        mine, other = (lines(plots.gait_map(gaits).axes[0])
                       for gaits in ([summary, hop], [self.gaits[1], make_hop()]))
        self.assertEqual(list(mine), list(other))
        for label, line in mine.items():
            np.testing.assert_allclose(line.get_xydata(), other[label].get_xydata())

    def test_bars_are_mean_and_deviation_over_varied_numbers(self):
        axes = plots.gait_map([self.gaits[0]]).axes[0]
        bars = [c for c in axes.collections if c.get_label() == "mean ± deviation"]
        np.testing.assert_allclose(bars[0].get_segments()[0], [[20, 6.9], [20, 7.5]])

    def test_energy_per_metre_has_a_panel_of_its_own_when_the_robot_is_given(self):
        robot = robot_pb2.Robot()
        for _ in self.gaits[0].leg_names:
            robot.legs.add().lumped.lift.bimorph.capacitance_f = 1e-8
        axes = plots.gait_map(self.gaits, robot=robot).axes
        self.assertEqual(len(axes), 3)
        self.assertEqual(axes[2].get_ylabel(), "charging\n(mJ per metre)")
        drawn = lines(axes[2])
        self.assertEqual(list(drawn), ["duct", "felt"])
        self.assertNotEqual(drawn["duct"].get_marker(), drawn["felt"].get_marker())
        np.testing.assert_allclose(
            drawn["duct"].get_ydata(),
            1e3 * gaitshelf.charging_j_per_m(self.gaits[2], robot), rtol=1e-12)

    def test_modes_in_range_are_lines_with_their_names(self):
        modes = [model_service_pb2.Mode(name=name, frequency_hz=frequency_hz) for name, frequency_hz
                 in (("surge", 0), ("heave", 11), ("pitch", 11.3), ("roll", 16), ("swing", 93))]
        figure = plots.gait_map(self.gaits, modes)
        upright = [line.get_xdata()[0] for line in figure.axes[0].lines
                   if np.ptp(line.get_xdata()) == 0 and len(line.get_xdata()) == 2]
        self.assertEqual(upright, [11, 11.3, 16])
        self.assertIn("heave, pitch", texts(figure))  # too near to stand side by side
        self.assertNotIn("swing", texts(figure))

    def test_map_of_two_robots_or_of_nothing_is_refused(self):
        other = make_message()
        other.robot = "ant"
        with self.assertRaisesRegex(ValueError, "ant, beetle"):
            plots.gait_map([*self.gaits, gaitshelf.Gait(other)])
        with self.assertRaisesRegex(ValueError, "no periodic gait"):
            plots.gait_map([make_hop()])


class AnimationTest(unittest.TestCase):
    def animate(self, gait, **options):
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "gait.gif")
            figure = plots.animation(gait, make_robot(), path, **options)
            with Image.open(path) as image:
                frames = [np.array(frame.convert("RGB")) for frame in ImageSequence.Iterator(image)]
                return figure, frames, image.info

    def test_gif_has_its_frames_and_moves(self):
        figure, frames, info = self.animate(make_gait(), cycles=2, frames_per_cycle=6)
        self.assertEqual(len(frames), 12)
        self.assertEqual(info["loop"], 0)
        self.assertEqual(info["duration"], 50)
        for one, next_one in zip(frames, frames[1:]):
            self.assertGreater((one != next_one).any(axis=2).sum(), 100)
        # 6 pictures at 20 a second for 0.1 s of the robot.
        self.assertIn("3 times slower", texts(figure))
        self.assertEqual(tuple(frames[0][0, -1]), (255, 255, 255))

    def test_hop_is_shown_once(self):
        self.assertEqual(len(self.animate(make_hop(), cycles=3, frames_per_cycle=5)[1]), 5)

    def test_feet_are_full_on_the_surface_and_empty_in_the_air(self):
        # The last picture is at three quarters of the cycle: left stands, right is up.
        figure, _, _ = self.animate(make_gait(), cycles=1, frames_per_cycle=4)
        side, top = figure.axes
        self.assertEqual((side.get_ylabel(), top.get_xlabel()),
                         ("height z (mm)", "way forward x (mm)"))
        dots = [line for line in side.lines if line.get_marker() == "o"]
        self.assertEqual([dot.get_markerfacecolor() for dot in dots], [style.DARK, "white"])
        at_m = stick.foot_position_m(make_gait(), make_robot())[6]
        for view, across in ((side, 2), (top, 1)):
            dots = [line for line in view.lines if line.get_marker() == "o"]
            np.testing.assert_allclose([dot.get_xdata()[0] for dot in dots], at_m[:, 0] * 1e3)
            np.testing.assert_allclose([dot.get_ydata()[0] for dot in dots], at_m[:, across] * 1e3)

    def test_second_cycle_goes_on_where_the_first_ended(self):
        first, second = (self.animate(make_gait(), cycles=cycles, frames_per_cycle=4)[0].axes[0]
                         for cycles in (1, 2))
        for one, other in zip(first.lines, second.lines):
            if one.get_marker() == "o":  # the last pictures of both, 8 mm apart
                np.testing.assert_allclose(other.get_xdata()[0] - one.get_xdata()[0], 8)
                np.testing.assert_allclose(other.get_ydata(), one.get_ydata())

    def test_number_out_of_range_is_refused(self):
        with self.assertRaisesRegex(ValueError, "cycles is 0"):
            plots.animation(make_gait(), make_robot(), "none.gif", cycles=0)


class StyleTest(unittest.TestCase):
    def test_tones_stay_apart_in_grey(self):
        # Relative luminance of sRGB (IEC 61966-2-1, from memory); 0.1 is well seen on paper (own judgement).
        def luminance(colour):
            value = np.array(matplotlib.colors.to_rgb(colour))
            linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
            return linear @ [0.2126, 0.7152, 0.0722]

        tones = sorted(map(luminance, (style.DARK, style.MIDDLE, style.LIGHT, "white")))
        self.assertGreater(np.diff(tones).min(), 0.1)

    def test_settings_of_the_caller_are_neither_used_nor_changed(self):
        with matplotlib.rc_context({"font.size": 31}):
            figure = plots.footfalls(make_gait())
            self.assertEqual(matplotlib.rcParams["font.size"], 31)
        self.assertEqual(figure.axes[0].xaxis.label.get_fontsize(), 8.5)

    def test_runs_of_contact(self):
        edge = np.arange(6.0)
        for pattern, expected in (("11001", [(0, 2), (4, 1)]), ("00000", []), ("11111", [(0, 5)])):
            is_on = np.array([c == "1" for c in pattern])
            self.assertEqual(style.spans(is_on, edge), expected)


if __name__ == "__main__":
    unittest.main()
