"""Lift and swing of every leg."""
from __future__ import annotations

from matplotlib.figure import Figure

from ..gait import Gait
from . import style


@style.styled
def leg_trajectories(gait: Gait) -> Figure:
    """Draws lift and swing of each leg in mm, a row for each leg, shaded while its foot bears load.

    Raises ValueError for a gait without legs.
    """
    names = gait.leg_names
    if not names:
        raise ValueError(f"gait {gait.name} has no legs to draw")
    figure = style.new_figure(1.15 + 0.85 * len(names))
    grid = figure.subplots(len(names), 2, sharex=True, sharey="col", squeeze=False)
    time = style.TimeAxis(gait)
    contact = time.intervals(gait.is_contact)
    for row, name in enumerate(names):
        for axes, what, position_m in zip(grid[row], ("lift", "swing"), (gait.lift_m, gait.swing_m)):
            style.shade_contact(axes, contact[:, row], time.edge)
            axes.axhline(0.0, color=style.GREY, linewidth=0.5)
            axes.plot(time.at_knot, time.knots(position_m[:, row]) * 1e3, color=style.DARK)
            axes.set_title(name)
            time.finish(axes, is_labelled=row == len(names) - 1)
            axes.set_ylabel(f"{what} (mm)")
    style.head(figure, style.describe(gait), "shaded: foot on the surface")
    return figure
