"""Gait map: how far the robot goes per cycle over the stride frequency, surface by surface, and what
a metre costs."""
from __future__ import annotations

from typing import Iterable, NamedTuple, Optional, Sequence, Union

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gaitshelf.v1 import audit_pb2, gait_pb2, model_service_pb2, robot_pb2

from ..energy import charging_j_per_m
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
    mean_mm: float = 0.0
    deviation_mm: float = 0.0
    charging_mj_per_m: Optional[float] = None


# Tells the surfaces of the panel of energy apart, in grey too: marker, line, colour.
_SURFACE_STYLES = (("o", "-", style.DARK), ("s", (0, (4, 2)), style.MIDDLE),
                   ("^", (0, (1.2, 1.2)), style.GREY), ("D", (0, (6, 2, 1, 2)), style.DARK))


@style.styled
def gait_map(gaits: Iterable[Union[Gait, gait_pb2.GaitSummary]],
             modes: Optional[Sequence[model_service_pb2.Mode]] = None,
             robot: Optional[robot_pb2.Robot] = None) -> Figure:
    """Draws planned, replayed and hand-tuned stride in mm over stride frequency in Hz, by surface.

    An upright bar is the mean over replays with varied numbers and one deviation either way.

    gaits: of one robot, such as Client.list(robot=...) or the gaits of a sweep; hops are left out.
    modes: such as Client.modes(robot).modes; those in the range of frequencies are drawn as lines.
    robot: of the version that the gaits were solved for; given it, and gaits that are whole, a last
    panel shows the energy that charges the drives per metre.

    Raises ValueError when no periodic gait is among them, or more than one robot.
    """
    gaits = list(gaits)
    points = [point for point in (_point(gait, robot) for gait in gaits) if point is not None]
    robots = sorted({gait.robot for gait in gaits})
    if not points:
        raise ValueError("no periodic gait is given; a map needs at least one")
    if len(robots) > 1:
        raise ValueError(f"gaits of {', '.join(robots)} are given; a map shows one robot")
    surfaces = sorted({point.surface for point in points})
    has_energy = any(point.charging_mj_per_m is not None for point in points)
    count = len(surfaces) + has_energy
    figure = style.new_figure(1.2 + 1.25 * count)
    grid = figure.subplots(count, 1, sharex=True, squeeze=False)[:, 0]
    for axes, surface in zip(grid, surfaces):
        axes.sharey(grid[0])
        _draw(axes, _on(surface, points))
        axes.set_ylabel(f"{surface}\nstride (mm)")
    _set_range(grid[0], points)
    if has_energy:
        _draw_energy(grid[-1], [(surface, _on(surface, points)) for surface in surfaces])
    for axes in grid:
        axes.grid(axis="y", color=style.LIGHT, linewidth=0.6)
        axes.set_axisbelow(True)
    _draw_modes(grid, modes or [])
    grid[-1].set_xlabel("stride frequency (Hz)")
    handles: dict[str, object] = {}
    for axes in grid[:len(surfaces)]:
        for handle, label in zip(*axes.get_legend_handles_labels()):
            handles.setdefault(label, handle)
    style.foot(figure, list(handles.values()), list(handles))
    style.head(figure, f"{robots[0]}: way per cycle on each surface"
               + (", and the energy that charges its drives" if has_energy else ""),
               "upright lines: frequencies at which the robot rings" if modes else "")
    return figure


def _on(surface: str, points: Sequence[_Point]) -> list[_Point]:
    return sorted((point for point in points if point.surface == surface),
                  key=lambda point: (point.frequency_hz, point.planned_mm))


def _point(gait: Union[Gait, gait_pb2.GaitSummary], robot: Optional[robot_pb2.Robot]
           ) -> Optional[_Point]:
    if isinstance(gait, Gait):
        if not gait.is_periodic:
            return None
        hand_tuned_m = gait.hand_tuned.advance_m if gait.hand_tuned is not None else 0.0
        return _Point(gait.surface, gait.frequency_hz, 1e3 * gait.advance_m,
                      1e3 * gait.replayed_advance_m, 1e3 * hand_tuned_m, gait.is_good,
                      1e3 * gait.spread.mean_m if gait.spread else 0.0,
                      1e3 * gait.spread.deviation_m if gait.spread else 0.0,
                      _charging_mj_per_m(gait, robot))
    if gait.task.WhichOneof("kind") != "advance":
        return None
    return _Point(gait.surface, gait.stride_frequency_hz, 1e3 * gait.advance_m,
                  1e3 * gait.replayed_advance_m, 1e3 * gait.hand_tuned_advance_m,
                  gait.verdict == audit_pb2.VERDICT_GOOD)


def _charging_mj_per_m(gait: Gait, robot: Optional[robot_pb2.Robot]) -> Optional[float]:
    energy_j_per_m = charging_j_per_m(gait, robot) if robot is not None else None
    return None if energy_j_per_m is None else 1e3 * energy_j_per_m


def _is_curve(points: Sequence[_Point]) -> bool:
    """False where a frequency has several gaits: lines would lead nowhere."""
    return len({point.frequency_hz for point in points}) == len(points)


def _draw_energy(axes: Axes, surfaces: Sequence[tuple[str, list[_Point]]]) -> None:
    greatest = 0.0
    for index, (surface, points) in enumerate(surfaces):
        marker, line, colour = _SURFACE_STYLES[index % len(_SURFACE_STYLES)]
        known = [point for point in points if point.charging_mj_per_m is not None]
        axes.plot([p.frequency_hz for p in known], [p.charging_mj_per_m for p in known],
                  marker=marker, color=colour, linestyle=line if _is_curve(known) else "none",
                  markersize=4.5, label=surface)
        greatest = max(greatest, *(p.charging_mj_per_m for p in known), 0.0)
    axes.set_ylim(0.0, 1.2 * greatest or 1.0)
    axes.set_ylabel("charging\n(mJ per metre)")
    axes.legend(loc="best", ncols=len(surfaces))


def _draw(axes: Axes, points: list[_Point]) -> None:
    is_curve = _is_curve(points)
    varied = [point for point in points if point.deviation_mm]
    if varied:
        axes.vlines([p.frequency_hz for p in varied],
                    [p.mean_mm - p.deviation_mm for p in varied],
                    [p.mean_mm + p.deviation_mm for p in varied], color=style.GREY, linewidth=3.5,
                    alpha=0.45, zorder=1, label="mean ± deviation")
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
              for value in (point.planned_mm, point.replayed_mm, point.hand_tuned_mm,
                            point.mean_mm + point.deviation_mm,
                            point.mean_mm - point.deviation_mm) if value]
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
