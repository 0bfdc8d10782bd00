"""The way of the body over one cycle or jump."""
from __future__ import annotations

from typing import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from ..gait import Gait
from . import style

# Colour, line and marker of each series.
_LINES = ((style.DARK, "-", "o"), (style.MIDDLE, (0, (5, 1.5)), "s"),
          (style.GREY, (0, (1.2, 1.2)), "^"))
# Least height of an axis, mm and degrees: below it there is nothing but rounding to see.
_LEAST_MM = 0.05
_LEAST_DEG = 0.1


@style.styled
def body_path(gait: Gait) -> Figure:
    """Draws the way of the body frame in mm, and its roll, pitch and yaw in degrees.

    A cycle is drawn from the side and from above, with heights and sideways motion at a larger scale
    than the way forward; a hop over time. Dots mark tenths of the cycle or hop.
    """
    figure = style.new_figure(5.0)
    height, level, angles = figure.subplots(3, 1)
    time = style.TimeAxis(gait)
    path_mm = time.knots(gait.body_position_m, gait.moved_on) * 1e3
    angle_deg = np.rad2deg(time.knots(gait.body_attitude_rad,
                                      lambda angle: angle + [0.0, 0.0, gait.turn_rad]))
    if gait.is_periodic:
        _draw(height, path_mm[:, 0], path_mm[:, 2:], _LINES[:1], _LEAST_MM)
        _draw(level, path_mm[:, 0], path_mm[:, 1:2], _LINES[:1], _LEAST_MM)
        for axes, title in ((height, "from the side"), (level, "from above")):
            axes.set_title(title)
            axes.set_xlabel("way forward x (mm)")
        level.set_ylabel("sideways y (mm)")
    else:
        _draw(height, time.at_knot, path_mm[:, 2:], _LINES[:1], _LEAST_MM)
        _draw(level, time.at_knot, path_mm[:, :2], _LINES[:2], _LEAST_MM,
              ("forward x", "sideways y"))
        for axes in (height, level):
            time.finish(axes)
        level.set_ylabel("way (mm)")
    height.set_ylabel("height z (mm)")
    _draw(angles, time.at_knot, angle_deg, _LINES, _LEAST_DEG, ("roll", "pitch", "yaw"))
    angles.set_ylabel("angle (°)")
    time.finish(angles)
    style.head(figure, style.describe(gait), "dots: tenths of the "
               + ("cycle" if gait.is_periodic else "hop"))
    return figure


def _draw(axes: Axes, along: np.ndarray, table: np.ndarray, lines: Sequence[tuple], least: float,
          names: Sequence[str] = ()) -> None:
    """Draws a line for each column of a table."""
    tenths = np.round(np.linspace(0, len(along) - 1, 11)).astype(int).tolist()
    for column, (colour, line, marker) in enumerate(lines):
        axes.plot(along, table[:, column], color=colour, linestyle=line, marker=marker,
                  markevery=tenths, label=names[column] if names else None)
    middle = (table.min() + table.max()) / 2
    half = 0.56 * max(float(np.ptp(table)), least)
    axes.set_ylim(middle - half, middle + half)
    axes.yaxis.set_major_locator(MaxNLocator(4))
    axes.ticklabel_format(axis="y", useOffset=False)
    if names:
        axes.legend(loc="center left", bbox_to_anchor=(1.0, 0.5))
