"""Tests that pictures of measured runs show what the analysis holds, labelled with units."""
import unittest

import numpy as np

from gaitshelf import plots
from gaitshelf.v1 import trial_analysis_pb2

from plots_test import LEGS, make_gait, texts


class TrialAgainstPlanTest(unittest.TestCase):
    def make_analysis(self):
        analysis = trial_analysis_pb2.TrialAnalysis(trial="t-1", cycle_start_s=[0.0, 0.1])
        analysis.stride_m.mean_si = 0.007
        mean = analysis.mean_cycle
        mean.phase_count = 4
        mean.leg_names[:] = LEGS
        mean.foot_names[:] = LEGS
        mean.leg_position_m[:] = np.arange(16) * 1e-3
        mean.leg_position_deviation_m[:] = [1e-4] * 16
        mean.contact_ratio[:] = [1, 0, 1, 0, 0, 1, 0, 1]
        return analysis

    def test_lines_are_plan_and_mean_cycle_in_mm(self):
        gait = make_gait()
        figure = plots.trial_against_plan(self.make_analysis(), gait)
        plan, measured = figure.axes[3].lines  # right leg, swing
        np.testing.assert_allclose(plan.get_ydata()[:-1], gait.swing_m[:, 1] * 1e3)
        np.testing.assert_allclose(measured.get_xdata(), [0, 0.25, 0.5, 0.75, 1])
        np.testing.assert_allclose(measured.get_ydata(), [3, 7, 11, 15, 3])
        self.assertNotEqual(plan.get_linestyle(), measured.get_linestyle())
        self.assertEqual(figure.axes[3].get_ylabel(), "swing (mm)")
        self.assertIn("trial t-1, 2 cycles of 7.00 ± 0.00 mm", texts(figure))

    def test_another_gait_and_no_cycles_are_refused(self):
        analysis = self.make_analysis()
        analysis.mean_cycle.leg_names[0] = "middle"
        with self.assertRaisesRegex(ValueError, "other legs"):
            plots.trial_against_plan(analysis, make_gait())
        analysis.ClearField("mean_cycle")
        with self.assertRaisesRegex(ValueError, "no cycles"):
            plots.trial_against_plan(analysis, make_gait())


class TrialStridesTest(unittest.TestCase):
    def make_comparison(self):
        comparison = trial_analysis_pb2.TrialComparison()
        comparison.analysis.trial = "t-1"
        comparison.analysis.cycle_stride_m[:] = [0.007, 0.008, 0.0075]
        comparison.analysis.stride_m.deviation_si = 0.0005
        comparison.figures.add(figure="speed", planned_si=5.0)
        comparison.figures.add(figure="stride", measured_si=0.0075, planned_si=0.009,
                               replayed_si=0.0088, hand_tuned_si=0.006)
        comparison.differences.add(text="left slides by 0.5 mm instead of the planned 0.1 mm")
        return comparison

    def test_points_are_cycles_and_lines_the_other_sides_in_mm(self):
        figure = plots.trial_strides(self.make_comparison(), make_gait())
        run, plan, replay, hand = figure.axes[0].lines
        np.testing.assert_allclose(run.get_xdata(), [1, 2, 3])
        np.testing.assert_allclose(run.get_ydata(), [7, 8, 7.5])
        for line, value in ((plan, 9), (replay, 8.8), (hand, 6)):
            np.testing.assert_allclose(line.get_ydata(), value)
        self.assertEqual(len({line.get_linestyle() for line in (plan, replay, hand)}), 3)
        self.assertEqual(figure.axes[0].get_ylabel(), "stride (mm)")
        self.assertIn("left slides", texts(figure))

    def test_a_side_that_is_not_known_is_left_out(self):
        comparison = self.make_comparison()
        comparison.figures[1].ClearField("hand_tuned_si")
        comparison.ClearField("differences")
        self.assertEqual(len(plots.trial_strides(comparison, make_gait()).axes[0].lines), 3)

    def test_a_trial_without_strides_is_refused(self):
        comparison = self.make_comparison()
        comparison.analysis.ClearField("cycle_stride_m")
        with self.assertRaisesRegex(ValueError, "no measured stride"):
            plots.trial_strides(comparison, make_gait())


if __name__ == "__main__":
    unittest.main(verbosity=2)
