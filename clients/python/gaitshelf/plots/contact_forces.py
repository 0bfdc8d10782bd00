"""Forces of the surface on every foot, against what friction can hold."""
from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from gaitshelf.v1 import surface_pb2

from ..gait import Gait
from . import style


@style.styled
def contact_forces(gait: Gait, surface: surface_pb2.Surface) -> Figure:
    """Draws normal force (left) and tangential force with the friction limit (right), mN, by foot.

    surface: as Client.surface_of(gait) returns it. The limit is its friction coefficient times the
    normal force; a tangential force at its limit means that the foot slides or is about to. Steps
    are averages from knot to knot.
    Raises ValueError for another surface than the gait's.
    """
    if surface.name != gait.surface:
        raise ValueError(f"surface {surface.name} is not {gait.surface}, which gait {gait.name} "
                         "was solved for; take Client.surface_of(gait)")
    names = gait.foot_names
    figure = style.new_figure(1.35 + 0.85 * len(names))
    grid = figure.subplots(len(names), 2, sharex=True, sharey="col", squeeze=False)
    time = style.TimeAxis(gait)
    force_mn = time.intervals(gait.foot_force_n) * 1e3
    normal_mn = force_mn[:, :, 2]
    tangential_mn = np.hypot(force_mn[:, :, 0], force_mn[:, :, 1])
    limit_mn = surface.friction_coefficient * normal_mn
    for row, name in enumerate(names):
        left, right = grid[row]
        left.stairs(normal_mn[:, row], time.edge, color=style.DARK, linewidth=1.1)
        right.stairs(limit_mn[:, row], time.edge, fill=True, color=style.LIGHT, alpha=0.55,
                     linewidth=0)
        limit = right.stairs(limit_mn[:, row], time.edge, color=style.MIDDLE, linewidth=1.1,
                             linestyle=(0, (2.5, 1.2)))
        force = right.stairs(tangential_mn[:, row], time.edge, color=style.DARK, linewidth=1.1)
        left.set_title(name)
        right.set_title(name)
        left.set_ylabel("normal (mN)")
        right.set_ylabel("tangential (mN)", fontsize=7.5)
        for axes in (left, right):
            time.finish(axes, is_labelled=row == len(names) - 1)
    grid[0][0].set_ylim(0.0, 1.08 * max(float(normal_mn.max()), 1e-6))
    top_mn = max(float(limit_mn.max()), float(tangential_mn.max()), 1e-6)
    grid[0][1].set_ylim(0.0, 1.08 * top_mn)
    style.foot(figure, [force, limit],
               ["force", f"friction limit, {surface.friction_coefficient:g} times the normal force"])
    style.head(figure, style.describe(gait), "left: normal force; right: tangential force")
    return figure
