"""One gait of the library with its trajectory as NumPy arrays."""
from __future__ import annotations

from functools import cached_property
from typing import Optional

import numpy as np

from gaitshelf.v1 import audit_pb2, gait_pb2


# A foot is in contact where its normal force exceeds this share of the gait's greatest one; a
# stream of setpoints draws the line at the same place.
_LOAD_RATIO = 1e-3


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
    def also_on(self) -> list[str]:
        """Names of the further surfaces that it was solved for, none slipperier than `surface`."""
        return [version.surface for version in self._message.also_on]

    @property
    def frequency_hz(self) -> float:
        """Cycles per second, Hz; 0 for a hop."""
        return self._message.stride_frequency_hz

    @property
    def robot_digest(self) -> str:
        """Digest of the robot's version that was solved for, 64 hexadecimal digits."""
        return self._message.robot_digest

    @property
    def surface_digest(self) -> str:
        """Digest of the surface's version that was solved for, 64 hexadecimal digits."""
        return self._message.surface_digest

    @property
    def is_periodic(self) -> bool:
        """False for a hop."""
        return self._message.is_periodic

    @property
    def is_good(self) -> bool:
        """True when the replay confirmed the gait. Do not run one that is not good."""
        return self._message.audit.verdict == audit_pb2.VERDICT_GOOD

    @property
    def reasons(self) -> list[str]:
        """Why the audit failed, one sentence each; empty for a good gait."""
        return list(self._message.audit.reasons)

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
    def sidestep_m(self) -> float:
        """Planned displacement to the left per cycle, m."""
        return self._message.sidestep_m

    @property
    def turn_rad(self) -> float:
        """Planned turn to the left per cycle, rad."""
        return self._message.turn_rad

    def moved_on(self, point_m: np.ndarray, cycles: float = 1.0) -> np.ndarray:
        """Returns points of the surface frame, ... x 3, m, moved on by that many cycles."""
        angle = cycles * self.turn_rad
        # Where a steady turn leads after a way of 1: ahead and to the left.
        ahead = np.sinc(angle / np.pi)
        left = np.sinc(0.5 * angle / np.pi) * np.sin(0.5 * angle)
        turn = np.array([[np.cos(angle), -np.sin(angle), 0.0],
                         [np.sin(angle), np.cos(angle), 0.0], [0.0, 0.0, 1.0]])
        way_m = cycles * np.array([ahead * self.advance_m - left * self.sidestep_m,
                                   left * self.advance_m + ahead * self.sidestep_m, 0.0])
        return point_m @ turn.T + way_m

    @property
    def rise_m(self) -> float:
        """Planned rise of a hop, m: greatest height of the body less the first; 0 for an advance."""
        height_m = self.body_position_m[:, 2]
        return 0.0 if self.is_periodic else float(height_m.max() - height_m[0])

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

    @property
    def residual_ratio(self) -> dict[str, float]:
        """Largest scaled residual of each law at the knots, by the law's name, "worst" for all."""
        residuals = self._message.audit.residuals
        return {field.name.removesuffix("_ratio"): getattr(residuals, field.name)
                for field in residuals.DESCRIPTOR.fields}

    @property
    def replay(self) -> audit_pb2.ReplayReport:
        """What the replay did: cycle_advance_m, slip_m, touchdown_ratio, peak_slew_v_per_s, ..."""
        return self._message.audit.replay

    @property
    def mechanism(self) -> Optional[audit_pb2.MechanismReport]:
        """Loads inside linkage legs in the replay: most_bent, most_loaded, ...; None for others."""
        replay = self._message.audit.replay
        return replay.mechanism if replay.HasField("mechanism") else None

    @property
    def spread(self) -> Optional[audit_pb2.Spread]:
        """Replays with varied numbers: mean_m, deviation_m, p05_m, ...; None until computed."""
        return self._message.audit.spread if self._message.audit.HasField("spread") else None

    @property
    def hand_tuned(self) -> Optional[audit_pb2.HandTuned]:
        """The best hand-tuned gait: advance_m, duty_ratio, ...; None for a hop, until computed."""
        audit = self._message.audit
        return audit.hand_tuned if audit.HasField("hand_tuned") else None

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

    @property
    def lift_m(self) -> np.ndarray:
        """Lift of each leg, N x L, m."""
        return self.leg_position_m[:, 0::2]

    @property
    def swing_m(self) -> np.ndarray:
        """Swing of each leg, N x L, m."""
        return self.leg_position_m[:, 1::2]

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

    @cached_property
    def is_contact(self) -> np.ndarray:
        """True where a foot bears load, N x F, bool; row k holds from knot k to knot k + 1."""
        normal_n = self.foot_force_n[:, :, 2]
        contact = normal_n > _LOAD_RATIO * normal_n.max(initial=0.0)
        contact.setflags(write=False)
        return contact

    @property
    def slip_m(self) -> np.ndarray:
        """Planned path of sliding under load, each foot per cycle, F, m."""
        return np.array(self._message.report.slip_m)
