"""One gait of the library with its trajectory as NumPy arrays."""
from __future__ import annotations

from functools import cached_property

import numpy as np

from gaitshelf.v1 import audit_pb2, gait_pb2


def _rows(values, count: int, *shape: int) -> np.ndarray:
    """Returns a read-only array count x shape from a row-by-row list."""
    array = np.array(values, dtype=float).reshape(count, *shape)
    array.setflags(write=False)
    return array


class Gait:
    """A gait with N knots, L legs, F feet. Arrays are read-only: a gait never changes.

    Knot k is at time k * knot_period_s. A periodic gait goes on from its last knot to its first one
    moved on by the cycle's displacement; a hop ends with its last knot.
    """

    def __init__(self, message: gait_pb2.Gait):
        self._message = message

    def __repr__(self) -> str:
        at = f" at {self.frequency_hz:g} Hz" if self.is_periodic else ""
        return (f"<Gait {self.name}: {self.robot} on {self.surface}{at}, "
                f"{'good' if self.is_good else 'not good'}>")

    @property
    def message(self) -> gait_pb2.Gait:
        """The gait as the server sent it, with plan report, audit and provenance."""
        return self._message

    @property
    def name(self) -> str:
        """Name in the library."""
        return self._message.name

    @property
    def robot(self) -> str:
        """Name of the robot."""
        return self._message.robot

    @property
    def surface(self) -> str:
        """Name of the surface."""
        return self._message.surface

    @property
    def frequency_hz(self) -> float:
        """Cycles per second, Hz; 0 for a hop."""
        return self._message.stride_frequency_hz

    @property
    def is_periodic(self) -> bool:
        """False for a hop."""
        return self._message.is_periodic

    @property
    def is_good(self) -> bool:
        """True when the replay confirmed the gait. Do not run one that is not good."""
        return self._message.audit.verdict == audit_pb2.VERDICT_GOOD

    @property
    def knot_count(self) -> int:
        """Number of knots, N."""
        return self._message.knot_count

    @property
    def knot_period_s(self) -> float:
        """Time between knots, s."""
        return self._message.knot_period_s

    @property
    def leg_names(self) -> list[str]:
        """Names of the legs, L of them, in the order of every per-leg array."""
        return list(self._message.leg_names)

    @property
    def foot_names(self) -> list[str]:
        """Names of the feet, F of them: the legs' feet, then the body feet."""
        return list(self._message.foot_names)

    @property
    def advance_m(self) -> float:
        """Planned displacement per cycle along x, m; of the whole jump for a hop."""
        return self._message.advance_m

    @property
    def replayed_advance_m(self) -> float:
        """Displacement per cycle in the replay, m."""
        return self._message.audit.replay.advance_m

    @property
    def replayed_rise_m(self) -> float:
        """Rise of a hop in the replay, m; 0 for an advance."""
        return self._message.audit.replay.rise_m

    @property
    def peak_voltage_v(self) -> float:
        """Greatest drive voltage in the replay, V."""
        return self._message.audit.replay.peak_voltage_v

    @property
    def worst_residual_ratio(self) -> float:
        """Largest scaled residual of the plan at its knots."""
        return self._message.audit.residuals.worst_ratio

    @cached_property
    def time_s(self) -> np.ndarray:
        """Time of each knot, N, s."""
        return _rows(np.arange(self.knot_count) * self.knot_period_s, self.knot_count)

    @cached_property
    def phase_ratio(self) -> np.ndarray:
        """Phase of each knot, N, 0 to 1: of the cycle, or of a hop from start to end."""
        span = self.knot_count if self.is_periodic else max(self.knot_count - 1, 1)
        return _rows(np.arange(self.knot_count) / span, self.knot_count)

    @cached_property
    def body_position_m(self) -> np.ndarray:
        """Body frame in the surface frame, N x 3, m."""
        return _rows(self._message.body_position_m, self.knot_count, 3)

    @cached_property
    def body_attitude_rad(self) -> np.ndarray:
        """Roll, pitch, yaw of the body, N x 3, rad."""
        return _rows(self._message.body_attitude_rad, self.knot_count, 3)

    @cached_property
    def leg_position_m(self) -> np.ndarray:
        """Lift and swing of each leg, N x 2L, m: lift of leg l in column 2l, swing in 2l + 1."""
        return _rows(self._message.leg_position_m, self.knot_count, 2 * len(self.leg_names))

    @cached_property
    def voltage_v(self) -> np.ndarray:
        """Feed-forward drive voltage of each coordinate, N x 2L, V."""
        return _rows(self._message.voltage_v, self.knot_count, 2 * len(self.leg_names))

    @cached_property
    def foot_force_n(self) -> np.ndarray:
        """Force of the surface on each foot, surface frame, N x F x 3, N.

        Row k is averaged over the interval that ends at knot k + 1.
        """
        return _rows(self._message.foot_force_n, self.knot_count, len(self.foot_names), 3)

    @cached_property
    def foot_gap_m(self) -> np.ndarray:
        """Height of each foot above the surface, N x F, m."""
        return _rows(self._message.foot_gap_m, self.knot_count, len(self.foot_names))
