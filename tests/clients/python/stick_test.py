"""Tests where the feet of a gait are drawn."""
import unittest

import numpy as np

import gaitshelf
from gaitshelf import stick
from gaitshelf.v1 import gait_pb2, robot_pb2


def about(axis, angle_rad):
    """Returns the turn about one axis as the exponential of its cross product matrix."""
    x, y, z = angle_rad * np.eye(3)[axis]
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    turn, term = np.eye(3), np.eye(3)
    for power in range(1, 30):
        term = term @ cross / power
        turn = turn + term
    return turn


class StickTest(unittest.TestCase):
    def make(self, attitude_rad=(0, 0, 0), position_m=(0, 0, 0)):
        robot = robot_pb2.Robot(name="beetle")
        leg = robot.legs.add(name="left")
        leg.lumped.foot_m[:] = [0.02, 0.01, -0.01]
        leg.lumped.lift.direction_ratio[:] = [0, 0.6, 0.8]
        leg.lumped.swing.direction_ratio[:] = [1, 0, 0]
        robot.body_feet.add(name="skid").point_m[:] = [-0.02, 0, -0.01]
        robot.body.size_m[:] = [0.05, 0.012, 0.01]
        gait = gaitshelf.Gait(gait_pb2.Gait(
            name="g", is_periodic=True, knot_count=1, leg_names=["left"],
            foot_names=["left", "skid"], leg_position_m=[0.001, 0.003],
            body_position_m=position_m, body_attitude_rad=attitude_rad))
        return gait, robot

    def test_rotation_turns_about_z_then_y_then_x(self):
        roll, pitch, yaw = 0.3, -0.5, 1.1
        expected = about(2, yaw) @ about(1, pitch) @ about(0, roll)
        np.testing.assert_allclose(stick.rotation(np.array([[roll, pitch, yaw]]))[0], expected,
                                   atol=1e-15)

    def test_turn_about_one_axis_goes_by_the_right_hand(self):
        # A quarter turn to the left carries forward to left, one of roll left to up.
        quarter = np.pi / 2
        turns = stick.rotation(np.array([[0, 0, quarter], [quarter, 0, 0]]))
        np.testing.assert_allclose(turns[0] @ [1, 0, 0], [0, 1, 0], atol=1e-15)
        np.testing.assert_allclose(turns[1] @ [0, 1, 0], [0, 0, 1], atol=1e-15)

    def test_lumped_foot_moves_along_its_two_directions(self):
        feet = stick.foot_body_position_m(*self.make())
        np.testing.assert_allclose(feet[0], [[0.023, 0.0106, -0.0092], [-0.02, 0, -0.01]])

    def test_foot_moves_with_the_body(self):
        quarter = np.pi / 2
        feet = stick.foot_position_m(*self.make((0, 0, quarter), (1, 2, 3)))
        np.testing.assert_allclose(feet[0], [[1 - 0.0106, 2.023, 2.9908], [1, 1.98, 2.99]])

    def test_hip_is_above_the_foot_on_the_side_of_the_body(self):
        _, robot = self.make()
        np.testing.assert_allclose(stick.hip_m(robot), [[0.02, 0.006, 0], [-0.02, 0, -0.01]])

    def test_another_robot_is_refused(self):
        gait, robot = self.make()
        robot.legs[0].name = "right"
        with self.assertRaisesRegex(ValueError, "robot_of"):
            stick.foot_body_position_m(gait, robot)


if __name__ == "__main__":
    unittest.main()
