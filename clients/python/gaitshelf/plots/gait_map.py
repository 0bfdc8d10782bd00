"""Gait map: how far the robot goes per cycle over the stride frequency, surface by surface."""
from __future__ import annotations

from typing import Iterable, NamedTuple, Optional, Sequence, Union

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gaitshelf.v1 import audit_pb2, gait_pb2, model_service_pb2

from ..gait import Gait
from . import style


class _Point(NamedTuple):
    """One periodic gait, mm and Hz; 0 for what is not known."""

    surface: str
    frequency_hz: float
    planned_mm: float
    replayed_mm: float
    hand_tuned_mm: float
    is_good: bool


@style.styled
def gait_map(gaits: Iterable[Union[Gait, gait_pb2.GaitSummary]],
             modes: Optional[Sequence[model_service_pb2.Mode]] = None) -> Figure:
    """Draws planned, replayed and hand-tuned stride in mm over stride frequency in Hz, by surface.

    gaits: of one robot, such as Client.list(robot=...) or the gaits of a sweep; hops are left out.
    modes: such as Client.modes(robot).modes; those in the range of frequencies are drawn as lines.

    Raises ValueError when no periodic gait is among them, or more than one robot.
    """
    gaits = list(gaits)
    points = [point for point in map(_point, gaits) if point is not None]
    robots = sorted({gait.robot for gait in gaits})
    if not points:
        raise ValueError("no periodic gait is given; a map needs at least one")
    if len(robots) > 1:
        raise ValueError(f"gaits of {', '.join(robots)} are given; a map shows one robot")
    surfaces = sorted({point.surface for point in points})
    figure = style.new_figure(1.2 + 1.25 * len(surfaces))
    grid = figure.subplots(len(surfaces), 1, sharex=True, sharey=True, squeeze=False)[:, 0]
    for axes, surface in zip(grid, surfaces):
        _draw(axes, sorted((point for point in points if point.surface == surface),
                           key=lambda point: (point.frequency_hz, point.planned_mm)))
        axes.set_ylabel(f"{surface}\nstride (mm)")
        axes.grid(axis="y", color=style.LIGHT, linewidth=0.6)
        axes.set_axisbelow(True)
    _set_range(grid[0], points)
    _draw_modes(grid, modes or [])
    grid[-1].set_xlabel("stride frequency (Hz)")
    handles, labels = [], []
    for axes in grid:
        for handle, label in zip(*axes.get_legend_handles_labels()):
            if label not in labels:
                handles.append(handle)
                labels.append(label)
    style.foot(figure, handles, labels)
    style.head(figure, f"{robots[0]}: way per cycle on each surface",
               "upright lines: frequencies at which the robot rings" if modes else "")
    return figure


def _point(gait: Union[Gait, gait_pb2.GaitSummary]) -> Optional[_Point]:
    if isinstance(gait, Gait):
        if not gait.is_periodic:
            return None
        hand_tuned_m = gait.hand_tuned.advance_m if gait.hand_tuned is not None else 0.0
        return _Point(gait.surface, gait.frequency_hz, 1e3 * gait.advance_m,
                      1e3 * gait.replayed_advance_m, 1e3 * hand_tuned_m, gait.is_good)
    if gait.task.WhichOneof("kind") != "advance":
        return None
    return _Point(gait.surface, gait.stride_frequency_hz, 1e3 * gait.advance_m,
                  1e3 * gait.replayed_advance_m, 1e3 * gait.hand_tuned_advance_m,
                  gait.verdict == audit_pb2.VERDICT_GOOD)


def _draw(axes: Axes, points: list[_Point]) -> None:
    # Lines would lead nowhere where a frequency has several gaits.
    is_curve = len({point.frequency_hz for point in points}) == len(points)
    good = [point for point in points if point.is_good]
    failed = [point for point in points if not point.is_good]
    tuned = [point for point in points if point.hand_tuned_mm]
    for what, shown, values, marker, line, colour, fill in (
            ("planned", points, [p.planned_mm for p in points], "o", (0, (4, 2)), style.GREY,
             "white"),
            ("replayed", good, [p.replayed_mm for p in good], "o", "-", style.DARK, style.DARK),
            ("hand-tuned, replayed", tuned, [p.hand_tuned_mm for p in tuned], "s", (0, (1.2, 1.2)),
             style.MIDDLE, style.MIDDLE),
            ("replayed, failed its audit", failed, [p.replayed_mm for p in failed], "x", "none",
             style.DARK, style.DARK)):
        if shown:
            axes.plot([p.frequency_hz for p in shown], values, marker=marker, color=colour,
                      linestyle=line if is_curve else "none", markerfacecolor=fill,
                      markersize=7 if what == "planned" else 5, label=what)


def _set_range(axes: Axes, points: list[_Point]) -> None:
    frequencies_hz = [point.frequency_hz for point in points]
    room_hz = 0.06 * max(max(frequencies_hz) - min(frequencies_hz), 2.0)
    axes.set_xlim(max(0.0, min(frequencies_hz) - room_hz), max(frequencies_hz) + room_hz)
    values = [value for point in points
              for value in (point.planned_mm, point.replayed_mm, point.hand_tuned_mm) if value]
    low, high = min(values, default=0.0), max(values, default=0.0)
    # A tenth of the stride is what an audit allows: less than that should look like little.
    room = max(0.15 * (high - low), 0.05 * max(abs(low), abs(high)), 0.01)
    axes.set_ylim(low - room, high + room)


def _draw_modes(grid: Sequence[Axes], modes: Sequence[model_service_pb2.Mode]) -> None:
    low_hz, high_hz = grid[0].get_xlim()
    shown = sorted((mode.frequency_hz, mode.name) for mode in modes
                   if mode.frequency_hz > 0.0 and low_hz <= mode.frequency_hz <= high_hz)
    names: list[tuple[float, list[str]]] = []
    for frequency_hz, name in shown:
        for axes in grid:
            axes.axvline(frequency_hz, color=style.GREY, linewidth=0.9, linestyle=(0, (6, 2, 1, 2)),
                         zorder=0)
        # Names that would run into each other share a place.
        if names and frequency_hz - names[-1][0] < 0.09 * (high_hz - low_hz):
            if name not in names[-1][1]:
                names[-1][1].append(name)
        else:
            names.append((frequency_hz, [name]))
    for frequency_hz, together in names:
        grid[0].text(frequency_hz, 1.02, ", ".join(together), va="bottom", fontsize=8,
                     ha="left" if len(together) > 1 else "center", color=style.GREY,
                     transform=grid[0].get_xaxis_transform())
