"""Where the foot of a linkage leg is: its loops closed again, for many postures at once.

Worked out from the description alone, so that it also checks what the solver says of heights.
"""
from __future__ import annotations

import numpy as np

from gaitshelf.v1 import robot_pb2

# From rest to a posture in this many steps: a long one could end on another assembly.
_STEP_COUNT = 8
_ITERATION_COUNT = 6
# Gap of a loop at which it counts as closed, over the size of the leg.
_CLOSED_RATIO = 1e-10
_LIFT, _SWING = 0, 1


def _turns(axis: np.ndarray, angle_rad: np.ndarray) -> np.ndarray:
    """Returns turns about a unit axis, N x 3 x 3 (Rodrigues' formula)."""
    x, y, z = axis
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    sine, versine = np.sin(angle_rad)[:, None, None], 1.0 - np.cos(angle_rad)[:, None, None]
    return np.eye(3) + sine * cross + versine * (cross @ cross)


class Linkage:
    """One leg of a robot whose form is a linkage: K links, C closing flexures, K = 2 C + 2."""

    def __init__(self, leg: robot_pb2.LinkageLeg):
        flexures = list(leg.flexures)
        self._place = {"body": -1}
        self._parent: list[int] = []
        self._point: list[np.ndarray] = []
        self._axis: list[np.ndarray] = []
        independent = {}
        while flexures:  # parents before their children
            flexure = next(f for f in flexures if f.parent in self._place)
            flexures.remove(flexure)
            for coordinate, name in ((_LIFT, leg.lift.flexure), (_SWING, leg.swing.flexure)):
                if flexure.name == name:
                    independent[coordinate] = len(self._parent)
            self._place[flexure.child] = len(self._parent)
            self._parent.append(self._place[flexure.parent])
            self._point.append(np.array(flexure.point_m))
            self._axis.append(np.array(flexure.axis_ratio))
        self._loops = [(self._place[f.link_a], self._place[f.link_b], np.array(f.point_m),
                        np.array(f.axis_ratio)) for f in leg.closing_flexures]
        self._independent = [independent[_LIFT], independent[_SWING]]
        self._dependent = [k for k in range(len(self._parent)) if k not in self._independent]
        self._foot = (self._place[leg.foot_link], np.array(leg.foot_m))
        self._size_m = max(np.abs(np.array(self._point) - self._foot[1]).max(), 1e-9)
        self._arm_m = self._rest_arms()

    def foot_m(self, coordinate_m: np.ndarray) -> np.ndarray:
        """Returns the foot in the body frame, N x 3, m.

        coordinate_m: lift and swing, N x 2, m, as gaits hold them.
        Raises ValueError when the loops cannot be closed.
        """
        target_rad = coordinate_m / self._arm_m
        angle_rad = np.zeros((len(coordinate_m), len(self._parent)))
        for step in range(1, _STEP_COUNT + 1):
            angle_rad[:, self._independent] = target_rad * step / _STEP_COUNT
            self._close(angle_rad)
        link, point = self._foot
        return self._carry(self._poses(angle_rad), link, point)

    def _rest_arms(self) -> np.ndarray:
        """Returns the way of the foot, up for lift and forward for swing, per angle at rest, m/rad."""
        poses = self._poses(np.zeros((1, len(self._parent))))
        _, slope = self._gaps(poses)
        rates = np.zeros((len(self._parent), 2))
        rates[self._independent, [_LIFT, _SWING]] = 1.0
        if self._loops:
            rates[self._dependent] = -np.linalg.solve(slope[0][:, self._dependent],
                                                      slope[0][:, self._independent])
        way = self._slopes(poses, *self._foot)[0] @ rates
        return np.array([way[2, _LIFT], way[0, _SWING]])

    def _close(self, angle_rad: np.ndarray) -> None:
        """Moves the dependent angles until every loop is closed (Newton's method)."""
        if not self._loops:
            return
        for _ in range(_ITERATION_COUNT):
            gap, slope = self._gaps(self._poses(angle_rad))
            angle_rad[:, self._dependent] -= np.linalg.solve(slope[:, :, self._dependent],
                                                             gap[:, :, None])[:, :, 0]
        gap, _ = self._gaps(self._poses(angle_rad))
        if not np.abs(gap).max(initial=0.0) <= _CLOSED_RATIO * self._size_m:
            raise ValueError("the loops of a leg do not close at these coordinates")

    def _poses(self, angle_rad: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
        """Returns turn (N x 3 x 3) and shift (N x 3) of each link from its place at rest."""
        poses = []
        for k, (parent, point, axis) in enumerate(zip(self._parent, self._point, self._axis)):
            turn = _turns(axis, angle_rad[:, k])
            shift = point - turn @ point
            if parent >= 0:
                parent_turn, parent_shift = poses[parent]
                shift = np.einsum("nij,nj->ni", parent_turn, shift) + parent_shift
                turn = parent_turn @ turn
            poses.append((turn, shift))
        return poses

    @staticmethod
    def _carry(poses: list, link: int, point: np.ndarray) -> np.ndarray:
        """Returns where a point of a link at rest is now, N x 3."""
        if link < 0:
            return np.broadcast_to(point, (len(poses[0][0]), 3))
        turn, shift = poses[link]
        return turn @ point + shift

    def _slopes(self, poses: list, link: int, point: np.ndarray) -> np.ndarray:
        """Returns the derivative of a point of a link by every angle, N x 3 x K."""
        slope = np.zeros((len(poses[0][0]), 3, len(self._parent)))
        place = self._carry(poses, link, point)
        while link >= 0:
            axis = poses[link][0] @ self._axis[link]
            slope[:, :, link] = np.cross(axis, place - self._carry(poses, link, self._point[link]))
            link = self._parent[link]
        return slope

    def _gaps(self, poses: list) -> tuple[np.ndarray, np.ndarray]:
        """Returns the gaps of all loops across their axes, N x 2C, and their slopes, N x 2C x K."""
        gaps, slopes = [], []
        for a, b, point, axis in self._loops:
            across = np.linalg.svd(axis[None, :])[2][1:]  # two directions across the axis, at rest
            frame = across if a < 0 else np.einsum("pi,nji->npj", across, poses[a][0])
            apart = self._carry(poses, a, point) - self._carry(poses, b, point)
            slope = self._slopes(poses, a, point) - self._slopes(poses, b, point)
            gaps.append((frame @ apart[:, :, None])[:, :, 0])
            slopes.append(frame @ slope)
        if not gaps:
            count = len(poses[0][0])
            return np.zeros((count, 0)), np.zeros((count, 0, len(self._parent)))
        return np.concatenate(gaps, axis=1), np.concatenate(slopes, axis=1)
