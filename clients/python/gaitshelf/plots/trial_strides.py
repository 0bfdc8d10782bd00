"""The stride of each measured cycle beside plan, replay and hand-tuned gait."""
from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from gaitshelf.v1 import trial_analysis_pb2

from ..gait import Gait
from . import style

_SIDES = (("planned_si", "plan", "--", style.MIDDLE), ("replayed_si", "replay", "-.", style.DARK),
          ("hand_tuned_si", "hand-tuned", ":", style.GREY))
# Characters of a line below the picture.
_LINE = 95


@style.styled
def trial_strides(comparison: trial_analysis_pb2.TrialComparison, gait: Gait) -> Figure:
    """Draws the stride of each cycle that counts in mm, with the other sides as lines.

    comparison: as Client.compare_trial returns it. The band is one standard deviation about the
    mean. What differs most stands in the title.

    Raises ValueError for a trial without a measured stride.
    """
    analysis = comparison.analysis
    strides_mm = 1e3 * np.array(analysis.cycle_stride_m)
    if not strides_mm.size:
        raise ValueError(f"trial {analysis.trial} has no measured stride to draw")
    figure = style.new_figure(2.6)
    axes = figure.subplots()
    cycle = np.arange(1, strides_mm.size + 1)
    mean, spread = strides_mm.mean(), 1e3 * analysis.stride_m.deviation_si
    axes.axhspan(mean - spread, mean + spread, color=style.LIGHT, alpha=0.55, linewidth=0, zorder=0)
    run, = axes.plot(cycle, strides_mm, "o", color=style.DARK)
    handles, labels = [run], [f"measured {mean:.2f} mm"]
    stride = next(f for f in comparison.figures if f.figure == "stride")
    for field, label, line, colour in _SIDES:
        if stride.HasField(field):
            value_mm = 1e3 * getattr(stride, field)
            handles.append(axes.axhline(value_mm, linestyle=line, color=colour))
            labels.append(f"{label} {value_mm:.2f} mm")
    axes.set_xlabel("cycle")
    axes.set_ylabel("stride (mm)")
    axes.set_xlim(0.5, strides_mm.size + 0.5)
    axes.xaxis.get_major_locator().set_params(integer=True)
    style.head(figure, style.describe(gait), _most(comparison))
    style.foot(figure, handles, labels)
    return figure


def _most(comparison: trial_analysis_pb2.TrialComparison) -> str:
    """Returns what differs most, as long as a line is."""
    if not comparison.differences:
        return ""
    text = f"differs most: {comparison.differences[0].text}"
    return text if len(text) <= _LINE else text[:_LINE - 3].rstrip() + "..."
