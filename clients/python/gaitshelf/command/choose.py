"""Which gaits of a robot belong into a table or a picture."""
from __future__ import annotations

import re
from typing import Sequence

from ..client import Client
from ..errors import NotFound
from ..gait import Gait


def is_gait_name(name: str) -> bool:
    """True for "g-" and 32 hexadecimal digits, as the library names its gaits."""
    return re.fullmatch(r"g-[0-9a-f]{32}", name) is not None


def good_gaits(library: Client, robot: str, surfaces: Sequence[str], advances_m: Sequence[float]
               ) -> list[Gait]:
    """Returns the newest good periodic gait of each surface, frequency and advance, in that order.

    Empty lists mean all. Gaits of former versions of robot or surface are left out. Raises NotFound
    when there is none.
    """
    chosen = {}
    for summary in library.list(robot=robot, only_good=True):
        if summary.is_superseded or summary.task.WhichOneof("kind") != "advance":
            continue
        advance = summary.task.advance
        if advance.sidestep_m or advance.turn_rad or advance.is_maximal:
            continue
        asked_m = advance.advance_m
        if surfaces and summary.surface not in surfaces or advances_m and asked_m not in advances_m:
            continue
        chosen.setdefault((summary.surface, summary.stride_frequency_hz, asked_m), summary.name)
    if not chosen:
        raise NotFound(f"the library has no such good gait of '{robot}'; order some with: "
                       "gaitshelf sweep --help", "NOT_FOUND")
    return [library.get(name) for _, name in sorted(chosen.items())]
