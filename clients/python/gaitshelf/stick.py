"""Where the feet of a gait are: the robot as a stick figure."""
from __future__ import annotations

import numpy as np

from gaitshelf.v1 import robot_pb2

from .gait import Gait
from .linkage import Linkage


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

    Raises ValueError when the robot is not the one of the gait.
    """
    if [leg.name for leg in robot.legs] != gait.leg_names:
        raise ValueError(f"robot {robot.name} is not the one that gait {gait.name} was solved for; "
                         "take Client.robot_of(gait)")
    feet = []
    for index, leg in enumerate(robot.legs):
        coordinate_m = gait.leg_position_m[:, 2 * index:2 * index + 2]
        if leg.WhichOneof("form") == "linkage":
            feet.append(Linkage(leg.linkage).foot_m(coordinate_m))
        else:
            directions = np.array([leg.lumped.lift.direction_ratio,
                                   leg.lumped.swing.direction_ratio])
            feet.append(np.array(leg.lumped.foot_m) + coordinate_m @ directions)
    for foot in robot.body_feet:
        feet.append(np.broadcast_to(np.array(foot.point_m), (gait.knot_count, 3)))
    return np.stack(feet, axis=1)


def foot_position_m(gait: Gait, robot: robot_pb2.Robot) -> np.ndarray:
    """Returns each foot in the surface frame, N x F x 3, m; errors are those above."""
    turned = np.einsum("nij,nfj->nfi", rotation(gait.body_attitude_rad),
                       foot_body_position_m(gait, robot))
    return gait.body_position_m[:, None, :] + turned


def hip_m(robot: robot_pb2.Robot) -> np.ndarray:
    """Returns where each foot hangs on the body, F x 3, m, in the body frame.

    A body foot hangs on itself. A drawing's idea of a hip: above the foot at rest, on the side of
    the body.
    """
    half_width_m = robot.body.size_m[1] / 2 if len(robot.body.size_m) == 3 else np.inf
    hips = []
    for leg in robot.legs:
        x_m, y_m, _ = getattr(leg, leg.WhichOneof("form")).foot_m
        hips.append([x_m, np.clip(y_m, -half_width_m, half_width_m), 0.0])
    return np.array(hips + [list(foot.point_m) for foot in robot.body_feet]).reshape(-1, 3)
