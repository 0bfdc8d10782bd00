"""Footfall diagram: when each foot bears load."""
from __future__ import annotations

from matplotlib.figure import Figure

from ..gait import Gait
from . import style


@style.styled
def footfalls(gait: Gait) -> Figure:
    """Draws a bar for each foot while it bears load, with its share of the cycle beside it.

    The horizontal axis is the phase of one cycle, for a hop the time in ms.
    """
    names = gait.foot_names
    figure = style.new_figure(0.95 + 0.3 * len(names))
    axes = figure.subplots()
    time = style.TimeAxis(gait)
    contact = time.intervals(gait.is_contact)
    for row, name in enumerate(names):
        bars = axes.broken_barh(style.spans(contact[:, row], time.edge), (row - 0.3, 0.6),
                                facecolor=style.DARK, edgecolor="none")
        bars.set_label(name)
        axes.text(1.01, row, f"{contact[:, row].mean():.0%}", va="center",
                  transform=axes.get_yaxis_transform())
    axes.set_yticks(range(len(names)), names)
    axes.set_ylim(len(names) - 0.4, -0.6)
    axes.tick_params(axis="y", length=0)
    axes.grid(axis="x", color=style.LIGHT, linewidth=0.6)
    axes.set_axisbelow(True)
    time.finish(axes)
    style.head(figure, style.describe(gait),
               "bar: foot on the surface; right: its share of the time")
    return figure
