"""How far gaits depend on numbers that are not known exactly."""
from __future__ import annotations

from typing import Iterable, Union

from matplotlib.figure import Figure

from ..gait import Gait
from ..orders import task_text
from . import style


@style.styled
def spread(gaits: Union[Gait, Iterable[Gait]]) -> Figure:
    """Draws planned, replayed, varied and hand-tuned stride of each gait in mm, a row for each.

    The bar is one standard deviation either way of the mean over replays in which the robot's
    numbers and the friction vary as stated; the tick is the 5th percentile. For a hop the stride is
    its rise.

    Raises ValueError when no gait has a spread.
    """
    gaits = [gaits] if isinstance(gaits, Gait) else list(gaits)
    shown = [gait for gait in gaits if gait.spread is not None]
    if not shown:
        raise ValueError("no gait has a spread; the audit of a good gait computes it")
    robots = sorted({gait.robot for gait in shown})
    figure = style.new_figure(1.5 + 0.3 * len(shown))
    axes = figure.subplots()
    for row, gait in enumerate(shown):
        _draw(axes, row, gait)
    axes.set_yticks(range(len(shown)), [_label(gait, len(robots) > 1) for gait in shown])
    axes.set_ylim(len(shown) - 0.4, -0.6)
    axes.tick_params(axis="y", length=0)
    axes.grid(axis="x", color=style.LIGHT, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.set_xlabel("stride: way per cycle, or rise of a hop (mm)")
    handles, labels = axes.get_legend_handles_labels()
    first = {label: handle for handle, label in reversed(list(zip(handles, labels)))}
    order = [label for label in ("planned", "replayed", "mean ± deviation", "5th percentile",
                                 "hand-tuned") if label in first]
    style.foot(figure, [first[label] for label in order], order)
    style.head(figure, f"{', '.join(robots)}: stride when robot and friction vary as stated",
               f"{shown[0].spread.replay_count} replays of each gait")
    return figure


def _label(gait: Gait, is_robot_named: bool) -> str:
    what = task_text(gait.message).replace(" per cycle", "")
    return f"{gait.robot + ', ' if is_robot_named else ''}{gait.surface}, {what}"


def _draw(axes, row: int, gait: Gait) -> None:
    varied = gait.spread
    planned_m = gait.advance_m if gait.is_periodic else gait.rise_m
    replayed_m = gait.replayed_advance_m if gait.is_periodic else gait.replayed_rise_m
    bar = axes.barh(row, 2e3 * varied.deviation_m, height=0.34,
                    left=1e3 * (varied.mean_m - varied.deviation_m), color=style.LIGHT,
                    edgecolor=style.GREY, linewidth=0.6)
    bar.set_label("mean ± deviation")
    axes.plot([1e3 * varied.p05_m], [row], linestyle="none", marker="|", markersize=12,
              markeredgewidth=1.8, color=style.DARK, label="5th percentile")
    if gait.hand_tuned is not None and gait.hand_tuned.advance_m:
        axes.plot([1e3 * gait.hand_tuned.advance_m], [row], linestyle="none", marker="x",
                  markersize=6, markeredgewidth=1.8, color=style.MIDDLE, label="hand-tuned")
    axes.plot([1e3 * planned_m], [row], linestyle="none", marker="o", markerfacecolor="none",
              markersize=7.5, color=style.DARK, label="planned")
    axes.plot([1e3 * replayed_m], [row], linestyle="none", marker="o", markersize=4,
              color=style.DARK, label="replayed")
