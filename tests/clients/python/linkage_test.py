"""Tests the closed loops of linkage legs against a parallelogram, whose motion is known in closed form."""
import unittest

import numpy as np

from gaitshelf.linkage import Linkage
from gaitshelf.v1 import robot_pb2

ARM_M = 0.008  # length of the two arms
FOOT_M = np.array([0.0, 0.012, -0.01])  # from the yoke's axis, at rest
LIFT_MM = (0, 1, -2, 3)
SWING_MM = (0, -2, 3, 1)


def make_leg(lower_m=ARM_M):
    """Returns a yoke about z that carries a parallelogram: two arms about x and an upright shank.

    Links come in an order in which parents do not stand first. A lower arm of another length than
    ARM_M makes a general four-bar of it.
    """
    leg = robot_pb2.LinkageLeg(foot_link="shank", foot_m=FOOT_M.tolist())
    tip_m = [0, 0.004 + ARM_M, 0]
    for name, parent, child, point_m, axis in (
            ("shank-top", "upper", "shank", tip_m, (1, 0, 0)),
            ("lift", "yoke", "upper", [0, 0.004, 0], (1, 0, 0)),
            ("lower-root", "yoke", "lower", [0, 0.004, -0.003], (1, 0, 0)),
            ("swing", "body", "yoke", [0, 0, 0.001], (0, 0, 1))):
        leg.flexures.add(name=name, parent=parent, child=child, point_m=point_m, axis_ratio=axis)
    leg.closing_flexures.add(name="close", link_a="shank", link_b="lower", axis_ratio=(1, 0, 0),
                             point_m=[0, 0.004 + lower_m, -0.003])
    leg.lift.flexure = "lift"
    leg.swing.flexure = "swing"
    return leg


def coordinates_m():
    return np.array([LIFT_MM, SWING_MM]).T * 1e-3


class LinkageTest(unittest.TestCase):
    def test_shank_of_a_parallelogram_stays_upright(self):
        # Own derivation: the upper arm's tip goes on a circle of ARM_M about x and carries the shank
        # without turning it; then the yoke turns all about z. At rest the foot rises by ARM_M per
        # radian and goes back by its distance from the yoke's axis.
        lift_rad = np.array(LIFT_MM) * 1e-3 / ARM_M
        yoke_rad = np.array(SWING_MM) * 1e-3 / -FOOT_M[1]
        out_m = FOOT_M[1] + ARM_M * (np.cos(lift_rad) - 1)
        expected_m = np.stack([-np.sin(yoke_rad) * out_m, np.cos(yoke_rad) * out_m,
                               FOOT_M[2] + ARM_M * np.sin(lift_rad)], axis=1)
        np.testing.assert_allclose(Linkage(make_leg()).foot_m(coordinates_m()), expected_m,
                                   atol=1e-15)

    def test_coordinates_are_the_way_of_the_foot_near_rest(self):
        small_m = 1e-6
        leg = Linkage(make_leg(lower_m=1.3 * ARM_M))
        up, forward = leg.foot_m(np.array([[small_m, 0], [0, small_m]])) - FOOT_M
        self.assertAlmostEqual(up[2] / small_m, 1, delta=1e-3)
        self.assertAlmostEqual(forward[0] / small_m, 1, delta=1e-3)

    def test_loop_of_a_general_four_bar_keeps_its_lengths(self):
        # The foot on the closing hinge stays as far from the lower arm's root as it is long.
        leg = make_leg(lower_m=1.3 * ARM_M)
        leg.foot_m[:] = leg.closing_flexures[0].point_m
        root_m = np.array([0, 0.004, -0.003])
        lift_m = np.array([[0.001, 0], [-0.002, 0], [0.003, 0]])
        foot_m = Linkage(leg).foot_m(lift_m)
        np.testing.assert_allclose(np.linalg.norm(foot_m - root_m, axis=1), 1.3 * ARM_M, rtol=1e-12)
        self.assertGreater(np.ptp(foot_m[:, 2]), 1e-3)

    def test_linkage_without_loops_needs_no_closing(self):
        leg = robot_pb2.LinkageLeg(foot_link="shank", foot_m=[0, 0.01, 0])
        leg.flexures.add(name="s", parent="body", child="hip", axis_ratio=(0, 0, 1), point_m=[0] * 3)
        leg.flexures.add(name="l", parent="hip", child="shank", axis_ratio=(1, 0, 0), point_m=[0] * 3)
        leg.lift.flexure = "l"
        leg.swing.flexure = "s"
        lift_m = 0.01 * np.pi / 6
        np.testing.assert_allclose(Linkage(leg).foot_m(np.array([[lift_m, 0]])),
                                   [[0, 0.01 * np.cos(np.pi / 6), 0.005]], atol=1e-15)

    def test_posture_out_of_reach_is_refused(self):
        with self.assertRaisesRegex(ValueError, "do not close"):
            Linkage(make_leg(lower_m=0.2 * ARM_M)).foot_m(np.array([[0.02, 0]]))


if __name__ == "__main__":
    unittest.main()
