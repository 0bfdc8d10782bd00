"""What can be asked for: one gait, or a set of them."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Iterable, Optional

from gaitshelf.v1 import task_pb2

from .errors import InvalidRequest


@dataclass(frozen=True)
class Order:
    """The gait that somebody wants. Say either advance_m, with frequency_hz, or hop_m."""

    robot: str
    """Name of the robot in the library."""
    surface: str
    """Name of the surface in the library."""
    frequency_hz: float = 0.0
    """Cycles per second, Hz; 0 for a hop."""
    advance_m: Optional[float] = None
    """Displacement per cycle, m."""
    hop_m: Optional[float] = None
    """Rise of a hop, m."""

    def __str__(self) -> str:
        what = (f"hop of {self.hop_m * 1e3:g} mm" if self.hop_m is not None else
                f"{(self.advance_m or 0.0) * 1e3:g} mm per cycle at {self.frequency_hz:g} Hz")
        return f"{self.robot} on {self.surface}, {what}"

    def message(self) -> task_pb2.GaitOrder:
        """Returns the order as the server reads it; raises InvalidRequest without a single task."""
        if (self.advance_m is None) == (self.hop_m is None):
            raise InvalidRequest("say either advance_m or hop_m", "INVALID_ARGUMENT")
        task = (task_pb2.Task(hop=task_pb2.Hop(rise_m=self.hop_m)) if self.advance_m is None else
                task_pb2.Task(advance=task_pb2.Advance(advance_m=self.advance_m)))
        return task_pb2.GaitOrder(robot=self.robot, surface=self.surface,
                                  stride_frequency_hz=self.frequency_hz, task=task)


def grid(robot: str, surfaces: Iterable[str], frequencies_hz: Iterable[float],
         advances_m: Iterable[float]) -> list[Order]:
    """Returns an order for every surface, displacement per cycle (m) and stride frequency (Hz).

    Neighbours in frequency follow each other.
    """
    frequencies_hz, advances_m = list(frequencies_hz), list(advances_m)
    return [Order(robot, surface, frequency_hz=frequency_hz, advance_m=advance_m)
            for surface in surfaces for advance_m in advances_m for frequency_hz in frequencies_hz]
