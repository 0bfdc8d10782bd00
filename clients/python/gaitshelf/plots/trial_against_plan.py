"""A measured run beside its plan."""
from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from gaitshelf.v1 import trial_analysis_pb2

from ..gait import Gait
from . import style


@style.styled
def trial_against_plan(analysis: trial_analysis_pb2.TrialAnalysis, gait: Gait) -> Figure:
    """Draws the mean measured cycle of each leg in mm over the plan's, a row for each leg.

    analysis: as Client.analyse_trial returns it. The band is one standard deviation between cycles
    to both sides; a foot's bar is dark where it stood in most cycles.

    Raises ValueError for another gait's trial or a trial without cycles.
    """
    mean = analysis.mean_cycle
    if not mean.phase_count:
        raise ValueError(f"trial {analysis.trial} has no cycles to draw")
    names = gait.leg_names
    if list(mean.leg_names) != list(names):
        raise ValueError(f"trial {analysis.trial} is of other legs than gait {gait.name}")
    figure = style.new_figure(1.45 + 0.9 * len(names))
    grid = figure.subplots(len(names), 2, sharex=True, sharey="col", squeeze=False)
    time = style.TimeAxis(gait)
    phase = np.arange(mean.phase_count + 1) / mean.phase_count
    measured = _closed(mean.leg_position_m, mean.phase_count, 2 * len(names)) * 1e3
    spread = _closed(mean.leg_position_deviation_m, mean.phase_count, 2 * len(names)) * 1e3
    stood = _closed(mean.contact_ratio, mean.phase_count, len(mean.foot_names)) > 0.5
    handles = []
    for row, name in enumerate(names):
        for side, planned_m in enumerate((gait.lift_m, gait.swing_m)):
            axes = grid[row][side]
            style.shade_contact(axes, stood[:-1, row], phase)
            column = 2 * row + side
            plan, = axes.plot(time.at_knot, time.knots(planned_m[:, row]) * 1e3, linestyle="--",
                              color=style.MIDDLE)
            run, = axes.plot(phase, measured[:, column], color=style.DARK)
            band = axes.fill_between(phase, measured[:, column] - spread[:, column],
                                     measured[:, column] + spread[:, column], color=style.DARK,
                                     alpha=0.3, linewidth=0)
            axes.set_title(name)
            time.finish(axes, is_labelled=row == len(names) - 1)
            axes.set_ylabel(f"{('lift', 'swing')[side]} (mm)")
            handles = [plan, run, band]
    style.head(figure, style.describe(gait), _note(analysis))
    style.foot(figure, handles, ["plan", "measured, mean cycle", "± one deviation between cycles"])
    return figure


def _closed(values, phases: int, width: int) -> np.ndarray:
    """Returns phases x width with the first row again at the end; NaN when nothing was measured."""
    if not values:
        return np.full((phases + 1, width), np.nan)
    array = np.array(values).reshape(phases, width)
    return np.concatenate([array, array[:1]])


def _note(analysis: trial_analysis_pb2.TrialAnalysis) -> str:
    # The first digits of a name are enough to tell trials apart.
    note = f"trial {analysis.trial[:10]}, {len(analysis.cycle_start_s)} cycles"
    if analysis.HasField("stride_m"):
        stride = analysis.stride_m
        note += f" of {stride.mean_si * 1e3:.2f} ± {stride.deviation_si * 1e3:.2f} mm"
    return note + "; shaded: foot on the surface, as measured"
