"""What all pictures share: type, lines, the axis of time, titles."""
from __future__ import annotations

import functools
from typing import Callable, Optional, Sequence

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from ..gait import Gait
from ..orders import task_text

# Width of a picture, inches: a column and a half of a printed page.
WIDTH_IN = 6.3
# Height of the line that a legend takes, inches.
_LEGEND_IN = 0.26
# Three tones that stay apart in grey (luminance 0.03, 0.22 and 0.62) and, being blue and orange, for
# eyes that mix red and green.
DARK = "#16324f"
MIDDLE = "#c8651b"
LIGHT = "#c3d0dc"
GREY = "#6b6b6b"

_TYPE = {
    "font.family": "DejaVu Sans", "font.size": 8.5, "axes.titlesize": 8.5, "axes.labelsize": 8.5,
    "axes.linewidth": 0.7, "axes.spines.top": False, "axes.spines.right": False,
    "axes.titlelocation": "left", "xtick.labelsize": 8, "ytick.labelsize": 8,
    "xtick.major.width": 0.7, "ytick.major.width": 0.7, "legend.frameon": False,
    "legend.fontsize": 8, "lines.linewidth": 1.3, "lines.markersize": 4.5, "figure.dpi": 130,
    "savefig.dpi": 130, "figure.facecolor": "white",
}


def styled(draw: Callable[..., Figure]) -> Callable[..., Figure]:
    """Draws under our own settings and leaves the caller's alone."""
    @functools.wraps(draw)
    def wrapper(*args, **kwargs) -> Figure:
        with matplotlib.rc_context({**matplotlib.rcParamsDefault, **_TYPE, "backend": "agg"}):
            return draw(*args, **kwargs)
    return wrapper


def new_figure(height_in: float) -> Figure:
    """Returns a figure that lays itself out and draws without a screen."""
    figure = Figure(figsize=(WIDTH_IN, height_in), layout="constrained")
    FigureCanvasAgg(figure)
    return figure


def describe(gait: Gait) -> str:
    """Returns robot, surface and task in one line, with a warning when the gait is not good."""
    what = task_text(gait.message)
    warning = "" if gait.is_good else "  (not good: do not run)"
    return f"{gait.robot} on {gait.surface}, {what}{warning}"


def head(figure: Figure, title: str, note: str = "") -> None:
    """Puts a title and below it a line that says how to read the picture."""
    figure.suptitle(title + (f"\n{note}" if note else ""), x=0.01, ha="left", fontsize=9)


def foot(figure: Figure, handles: Sequence, labels: Sequence[str]) -> None:
    """Puts the legend of the whole picture on one line below it."""
    share = _LEGEND_IN / figure.get_figheight()
    figure.get_layout_engine().set(rect=(0.0, share, 1.0, 1.0 - share))
    figure.legend(handles, labels, loc="lower center", ncols=len(labels), borderaxespad=0.1,
                  handletextpad=0.6, columnspacing=1.6)


class TimeAxis:
    """The horizontal axis of one gait: phase of a cycle, or time of a hop in ms.

    Row k of an array that holds at a knot is at at_knot[k]; one that holds over an interval lies
    between edge[k] and edge[k + 1]. A cycle goes from 0 to 1 with its first knot repeated at its
    end; a hop ends with its last knot, whose own interval is not shown.
    """

    def __init__(self, gait: Gait):
        self._is_periodic = gait.is_periodic
        count = gait.knot_count
        if gait.is_periodic:
            self.at_knot = np.arange(count + 1) / count
            self.edge = self.at_knot
            self.label = f"phase of the cycle (1 is {1e3 * count * gait.knot_period_s:.3g} ms)"
        else:
            self.at_knot = gait.time_s * 1e3
            self.edge = self.at_knot
            self.label = "time (ms)"

    def knots(self, array: np.ndarray,
              move: Optional[Callable[[np.ndarray], np.ndarray]] = None) -> np.ndarray:
        """Returns an array per knot as it belongs to at_knot; `move` is done where it closes."""
        if not self._is_periodic:
            return array
        return np.concatenate([array, array[:1] if move is None else move(array[:1])])

    def intervals(self, array: np.ndarray) -> np.ndarray:
        """Returns an array per interval as it lies between the edges."""
        return array if self._is_periodic else array[:-1]

    def finish(self, axes: Axes, is_labelled: bool = True) -> None:
        """Sets limits, and the label unless another axis below has it."""
        axes.set_xlim(self.edge[0], self.edge[-1])
        if is_labelled:
            axes.set_xlabel(self.label)


def spans(is_on: np.ndarray, edge: np.ndarray) -> list[tuple[float, float]]:
    """Returns start and width of each run of True; is_on holds from edge[k] to edge[k + 1]."""
    change = np.flatnonzero(np.diff(np.concatenate([[False], is_on, [False]]).astype(int)))
    starts, ends = edge[change[0::2]], edge[change[1::2]]
    return [(float(a), float(b - a)) for a, b in zip(starts, ends)]


def shade_contact(axes: Axes, is_on: np.ndarray, edge: np.ndarray) -> None:
    """Shades the time for which a foot bears load."""
    for start, width in spans(is_on, edge):
        axes.axvspan(start, start + width, color=LIGHT, alpha=0.55, linewidth=0, zorder=0)
