"""The verb map: stride, spread and energy over frequency, with the robot's modes between."""
from __future__ import annotations

import argparse
import json
from typing import Optional, Sequence

from gaitshelf.v1 import model_service_pb2

from ..client import Client
from ..energy import charging_j_per_m
from ..gait import Gait
from . import choose, table

_HEADINGS = ["surface", ">Hz", ">asked mm", ">got mm", ">mean mm", ">5 % mm", ">mJ/m"]


def run(library: Client, arguments: argparse.Namespace) -> int:
    """Prints the table of a robot's good gaits."""
    robot = arguments.names[0]
    gaits = choose.good_gaits(library, robot, arguments.surface, arguments.advance)
    modes = library.modes(robot).modes
    # All are of the robot's current version.
    description = library.robot_of(gaits[0])
    energies = [charging_j_per_m(gait, description) for gait in gaits]
    print(to_json(robot, gaits, energies, modes) if arguments.json
          else to_text(gaits, energies, modes))
    return 0


def to_text(gaits: Sequence[Gait], energies_j_per_m: Sequence[Optional[float]],
            modes: Sequence[model_service_pb2.Mode]) -> str:
    """Returns the table, and lines that say how to read it."""
    rows = []
    before = None
    for gait, energy in zip(gaits, energies_j_per_m):
        if before is not None and gait.surface == before.surface:
            # A mode stands between the gaits that it lies between.
            rows += [[f"  -- {mode.frequency_hz:.2f} Hz: {mode.name}"] for mode in modes
                     if before.frequency_hz < mode.frequency_hz <= gait.frequency_hz]
        rows.append(_row(gait, energy))
        before = gait
    return "\n".join([
        table.to_text(_HEADINGS, rows),
        "got: replayed way per cycle; mean and 5th percentile over replays with robot and",
        "friction varied as stated; mJ/m: energy that charges the drives; --: the robot",
        "rings at this frequency on sliding feet"])


def _row(gait: Gait, energy_j_per_m: Optional[float]) -> list[str]:
    def millimetres(length_m: Optional[float]) -> str:
        return "-" if length_m is None else f"{1e3 * length_m:.2f}"

    spread = gait.spread
    return [gait.surface[:10], f"{gait.frequency_hz:g}",
            f"{1e3 * gait.message.task.advance.advance_m:g}",
            millimetres(gait.replayed_advance_m), millimetres(spread.mean_m if spread else None),
            millimetres(spread.p05_m if spread else None),
            "-" if energy_j_per_m is None else f"{1e3 * energy_j_per_m:.1f}"]


def to_json(robot: str, gaits: Sequence[Gait], energies_j_per_m: Sequence[Optional[float]],
            modes: Sequence[model_service_pb2.Mode]) -> str:
    """Returns {"robot", "gaits", "modes"}, in SI units."""
    return json.dumps({"robot": robot, "gaits": [{
        "gait": gait.name,
        "surface": gait.surface,
        "stride_frequency_hz": gait.frequency_hz,
        "asked_advance_m": gait.message.task.advance.advance_m,
        "advance_m": gait.advance_m,
        "replayed_advance_m": gait.replayed_advance_m,
        "spread_mean_m": gait.spread.mean_m if gait.spread else None,
        "spread_deviation_m": gait.spread.deviation_m if gait.spread else None,
        "spread_p05_m": gait.spread.p05_m if gait.spread else None,
        "charging_j_per_m": energy,
    } for gait, energy in zip(gaits, energies_j_per_m)], "modes": [
        {"name": mode.name, "frequency_hz": mode.frequency_hz} for mode in modes]}, indent=1)
