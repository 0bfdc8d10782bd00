"""What can be asked for: one gait, or a set of them."""
from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Iterable, Optional, Union

from gaitshelf.v1 import gait_pb2, task_pb2

from .errors import InvalidRequest


_OBJECTIVES = {
    "": task_pb2.OBJECTIVE_UNSPECIFIED,
    "effort": task_pb2.OBJECTIVE_LEAST_EFFORT,
    "energy": task_pb2.OBJECTIVE_LEAST_ENERGY,
    "smooth": task_pb2.OBJECTIVE_SMOOTHEST,
    "peak": task_pb2.OBJECTIVE_LEAST_PEAK_VOLTAGE,
}


@dataclass(frozen=True)
class Transition:
    """The way from one good gait of the library into another, of the same robot and surface."""

    from_gait: str
    """Name of the gait that it starts from."""
    to_gait: str
    """Name of the gait that it leads into."""
    from_phase_ratio: float = 0.0
    """Phase of the first gait at the start, 0 to 1."""
    to_phase_ratio: float = 0.0
    """Phase of the second gait at the end, 0 to 1."""
    cycle_count: int = 2
    """Most cycles that it takes, 1 to 8."""


@dataclass(frozen=True)
class Order:
    """The gait that somebody wants.

    A gait is said by frequency_hz and at least one of advance_m, sidestep_m, turn_rad and
    is_maximal; a hop by hop_m, over a distance with advance_m; a posture by stand_m; the way from
    one gait into another by transition.
    """

    robot: str
    """Name of the robot in the library."""
    surface: str
    """Name of the surface in the library."""
    frequency_hz: float = 0.0
    """Cycles per second, Hz; 0 for a hop or stand."""
    advance_m: Optional[float] = None
    """Displacement per cycle, m; of a hop, of the whole jump."""
    hop_m: Optional[float] = None
    """Rise of a hop, m."""
    sidestep_m: float = 0.0
    """Displacement to the left per cycle, m."""
    turn_rad: float = 0.0
    """Turn to the left per cycle, rad."""
    is_maximal: bool = False
    """True to go straight ahead as far per cycle as can be."""
    stand_m: Optional[float] = None
    """Height of a stand above the robot's reference height, m."""
    roll_rad: float = 0.0
    """Roll of a stand, rad."""
    pitch_rad: float = 0.0
    """Pitch of a stand, nose down, rad."""
    objective: str = ""
    """What the plan makes small: "effort" (also when left out), "energy", "smooth" or "peak"."""
    also_on: tuple[str, ...] = ()
    """Names of further surfaces on which the same gait must be good."""
    transition: Optional[Transition] = None
    """The way from one gait into another."""

    def __str__(self) -> str:
        surfaces = " and ".join((self.surface, *self.also_on))
        return f"{self.robot} on {surfaces}, {task_text(self.message())}"

    def message(self) -> task_pb2.GaitOrder:
        """Returns the order as the server reads it; raises InvalidRequest without a single task."""
        if self.objective not in _OBJECTIVES:
            raise InvalidRequest(f"objective is '{self.objective}'; use effort, energy, smooth or "
                                 "peak", "INVALID_ARGUMENT")
        return task_pb2.GaitOrder(robot=self.robot, surface=self.surface,
                                  stride_frequency_hz=self.frequency_hz, task=self._task(),
                                  objective=_OBJECTIVES[self.objective], also_on=self.also_on)

    def _task(self) -> task_pb2.Task:
        if self.transition is not None:
            return self._transition_task(self.transition)
        is_gait = bool(self.sidestep_m or self.turn_rad or self.is_maximal)
        if self.hop_m is not None and self.stand_m is None and not is_gait:
            return task_pb2.Task(hop=task_pb2.Hop(rise_m=self.hop_m, advance_m=self.advance_m))
        if self.stand_m is not None and self.hop_m is None and not is_gait and (
                self.advance_m is None):
            return task_pb2.Task(stand=task_pb2.Stand(
                height_m=self.stand_m, roll_rad=self.roll_rad, pitch_rad=self.pitch_rad))
        if self.hop_m is None and self.stand_m is None and (is_gait or self.advance_m is not None):
            return task_pb2.Task(advance=task_pb2.Advance(
                advance_m=self.advance_m, sidestep_m=self.sidestep_m, turn_rad=self.turn_rad,
                is_maximal=self.is_maximal))
        raise InvalidRequest("say one task: a gait by advance_m, sidestep_m, turn_rad or "
                             "is_maximal, a hop by hop_m, a stand by stand_m, or a transition",
                             "INVALID_ARGUMENT")

    def _transition_task(self, way: Transition) -> task_pb2.Task:
        if (self.hop_m, self.stand_m, self.advance_m) != (None, None, None) or (
                self.sidestep_m or self.turn_rad or self.is_maximal):
            raise InvalidRequest("transition does not go with another task: leave out advance_m, "
                                 "sidestep_m, turn_rad, is_maximal, hop_m and stand_m",
                                 "INVALID_ARGUMENT")
        return task_pb2.Task(transition=task_pb2.Transition(
            from_gait=way.from_gait, from_phase_ratio=way.from_phase_ratio,
            to_gait=way.to_gait, to_phase_ratio=way.to_phase_ratio,
            cycle_count=way.cycle_count))


def task_text(order: Union[task_pb2.GaitOrder, gait_pb2.Gait]) -> str:
    """Returns what an order asks for, or a gait was asked for, in words."""
    task = order.task
    if task.HasField("hop"):
        over = f" over {task.hop.advance_m * 1e3:.3g} mm" if task.hop.advance_m else ""
        return f"hop of {task.hop.rise_m * 1e3:.3g} mm{over}"
    if task.HasField("stand"):
        return f"stand at {task.stand.height_m * 1e3:+.3g} mm"
    if task.HasField("transition"):
        way = task.transition
        return f"from {way.from_gait[:10]} into {way.to_gait[:10]}"
    advance = task.advance
    parts = ["all it can"] if advance.is_maximal else []
    if advance.advance_m:
        parts.append(f"{advance.advance_m * 1e3:.3g} mm")
    if advance.sidestep_m:
        parts.append(f"{advance.sidestep_m * 1e3:.3g} mm to the left")
    if advance.turn_rad:
        parts.append(f"{math.degrees(advance.turn_rad):.3g}° of turn")
    return f"{' and '.join(parts)} per cycle at {order.stride_frequency_hz:g} Hz"


def grid(robot: str, surfaces: Iterable[str], frequencies_hz: Iterable[float],
         advances_m: Iterable[float]) -> list[Order]:
    """Returns an order for every surface, displacement per cycle (m) and stride frequency (Hz).

    Neighbours in frequency follow each other.
    """
    frequencies_hz, advances_m = list(frequencies_hz), list(advances_m)
    return [Order(robot, surface, frequency_hz=frequency_hz, advance_m=advance_m)
            for surface in surfaces for advance_m in advances_m for frequency_hz in frequencies_hz]
