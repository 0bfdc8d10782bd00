"""Where the feet of a gait are: the robot as a stick figure."""
from __future__ import annotations

import numpy as np

from gaitshelf.v1 import robot_pb2

from .gait import Gait


def rotation(attitude_rad: np.ndarray) -> np.ndarray:
    """Returns the matrices from the body frame to the surface frame, N x 3 x 3.

    attitude_rad: roll, pitch, yaw, N x 3, rad; turns about z, then y, then x.
    """
    cos, sin = np.cos(attitude_rad), np.sin(attitude_rad)
    (c_r, c_p, c_y), (s_r, s_p, s_y) = cos.T, sin.T
    rows = [[c_y * c_p, c_y * s_p * s_r - s_y * c_r, c_y * s_p * c_r + s_y * s_r],
            [s_y * c_p, s_y * s_p * s_r + c_y * c_r, s_y * s_p * c_r - c_y * s_r],
            [-s_p, c_p * s_r, c_p * c_r]]
    return np.moveaxis(np.array(rows), 2, 0)


def foot_body_position_m(gait: Gait, robot: robot_pb2.Robot) -> np.ndarray:
    """Returns each foot in the body frame, N x F x 3, m.

    Exact for lumped legs and body feet. The foot of a linkage leg is put where its coordinates,
    which are measured at the foot, put it to first order: up by lift, forward by swing.

    Raises ValueError when the robot is not the one of the gait.
    """
    if [leg.name for leg in robot.legs] != gait.leg_names:
        raise ValueError(f"robot {robot.name} is not the one that gait {gait.name} was solved for; "
                         "take Client.robot_of(gait)")
    feet = []
    for index, leg in enumerate(robot.legs):
        rest_m, up, forward = _foot(leg)
        feet.append(rest_m + gait.lift_m[:, index, None] * up
                    + gait.swing_m[:, index, None] * forward)
    for foot in robot.body_feet:
        feet.append(np.broadcast_to(np.array(foot.point_m), (gait.knot_count, 3)))
    return np.stack(feet, axis=1)


def foot_position_m(gait: Gait, robot: robot_pb2.Robot) -> np.ndarray:
    """Returns each foot in the surface frame, N x F x 3, m; see foot_body_position_m.

    Heights are those of the gait itself, for every kind of leg.
    """
    turned = np.einsum("nij,nfj->nfi", rotation(gait.body_attitude_rad),
                       foot_body_position_m(gait, robot))
    position_m = gait.body_position_m[:, None, :] + turned
    position_m[:, :, 2] = gait.foot_gap_m
    return position_m


def hip_m(robot: robot_pb2.Robot) -> np.ndarray:
    """Returns where each foot hangs on the body, F x 3, m, in the body frame.

    A body foot hangs on itself. A drawing's idea of a hip: above the foot at rest, on the side of
    the body.
    """
    half_width_m = robot.body.size_m[1] / 2 if len(robot.body.size_m) == 3 else np.inf
    hips = []
    for leg in robot.legs:
        x_m, y_m, _ = _foot(leg)[0]
        hips.append([x_m, np.clip(y_m, -half_width_m, half_width_m), 0.0])
    return np.array(hips + [list(foot.point_m) for foot in robot.body_feet]).reshape(-1, 3)


def _foot(leg: robot_pb2.Leg) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Returns foot at rest, m, and the directions of lift and swing, all in the body frame."""
    if leg.WhichOneof("form") == "lumped":
        return (np.array(leg.lumped.foot_m), np.array(leg.lumped.lift.direction_ratio),
                np.array(leg.lumped.swing.direction_ratio))
    return np.array(leg.linkage.foot_m), np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0])
