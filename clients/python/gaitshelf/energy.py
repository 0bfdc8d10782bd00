"""Electrical energy that the drives of a gait take from their supply."""
from __future__ import annotations

from typing import Iterator, Optional

import numpy as np

from gaitshelf.v1 import robot_pb2

from .gait import Gait

_VACUUM_F_PER_M = 8.8541878128e-12  # CODATA 2018, from memory


def charging_j(gait: Gait, robot: robot_pb2.Robot) -> Optional[float]:
    """Returns the energy that charges the drives over one cycle, or one hop, J.

    Counts what a capacitance takes up while its voltage grows in size; what it gives back counts as
    lost. Voltages are the planned ones, without what the leg controller adds. None when a drive's
    capacitance is not known.

    robot: of the version that the gait was solved for, as Client.robot_of returns it.
    """
    voltage_v = gait.voltage_v
    if gait.is_periodic:
        voltage_v = np.concatenate([voltage_v, voltage_v[:1]])
    energy_j = 0.0
    for column, bimorph in _bimorphs(robot):
        capacitance_f = _capacitance_f(bimorph)
        if capacitance_f == 0.0:
            return None
        before_v, after_v = voltage_v[:-1, column], voltage_v[1:, column]
        # A line through 0 V first gives back all, then charges from nothing.
        start_v = np.where(before_v * after_v < 0.0, 0.0, before_v)
        energy_j += 0.5 * capacitance_f * np.maximum(after_v ** 2 - start_v ** 2, 0.0).sum()
    return float(energy_j)


def _bimorphs(robot: robot_pb2.Robot) -> Iterator[tuple[int, robot_pb2.Bimorph]]:
    """Yields the column and the bimorph of every driven leg coordinate."""
    for index, leg in enumerate(robot.legs):
        for offset, name in enumerate(("lift", "swing")):
            if leg.HasField("lumped"):
                holder = getattr(leg.lumped, name)
            else:
                coordinate = getattr(leg.linkage, name)
                if not coordinate.HasField("drive"):
                    continue
                holder = coordinate.drive
            if holder.HasField("bimorph"):
                yield 2 * index + offset, holder.bimorph


def _capacitance_f(bimorph: robot_pb2.Bimorph) -> float:
    """Returns the capacitance that the drive sees, F; 0 when it is not known."""
    if not bimorph.HasField("layers"):
        return bimorph.capacitance_f
    layers = bimorph.layers
    layer_f = (layers.permittivity_ratio * _VACUUM_F_PER_M * layers.width_m * layers.length_m
               / layers.piezo_thickness_m)
    return layer_f * (0.5 if layers.wiring == robot_pb2.BIMORPH_WIRING_SERIES else 2.0)


def charging_j_per_m(gait: Gait, robot: robot_pb2.Robot) -> Optional[float]:
    """Returns charging_j over the way that the gait goes in its replay, J/m.

    None as for charging_j, and when the gait does not get anywhere.
    """
    energy_j = charging_j(gait, robot)
    way_m = abs(gait.replayed_advance_m)
    return None if energy_j is None or way_m == 0.0 else energy_j / way_m
