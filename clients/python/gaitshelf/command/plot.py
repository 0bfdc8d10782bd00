"""The verb plot: one picture in one file."""
from __future__ import annotations

import argparse
import io
import json
import os
from pathlib import Path
from typing import Callable

from matplotlib.figure import Figure
from PIL import Image

from gaitshelf.v1 import trial_analysis_pb2

from .. import plots
from ..client import Client
from ..errors import InvalidRequest
from ..gait import Gait
from . import choose

_FIGURE_ENDINGS = (".png", ".svg", ".pdf")
_ANIMATION_ENDINGS = (".gif",)
_COLOUR_COUNT = 48
# Pictures of one gait.
_OF_A_GAIT: dict[str, Callable[[Client, Gait], Figure]] = {
    "footfalls": lambda _, gait: plots.footfalls(gait),
    "legs": lambda _, gait: plots.leg_trajectories(gait),
    "forces": lambda library, gait: plots.contact_forces(gait, library.surface_of(gait)),
    "body": lambda _, gait: plots.body_path(gait),
}
# Pictures of a trial beside its gait.
_OF_A_TRIAL: dict[str, Callable[[trial_analysis_pb2.TrialComparison, Gait], Figure]] = {
    "trial": lambda comparison, gait: plots.trial_against_plan(comparison.analysis, gait),
    "strides": plots.trial_strides,
}


def run(library: Client, arguments: argparse.Namespace) -> int:
    """Draws what is asked for and prints the file's name."""
    kind, name = arguments.names
    path = Path(arguments.out)
    allowed = _ANIMATION_ENDINGS if kind == "animation" else _FIGURE_ENDINGS
    if path.suffix not in allowed:
        raise InvalidRequest(f"--out: '{path}' must end in {' or '.join(allowed)} for {kind}",
                             "INVALID_ARGUMENT")
    part = path.with_name(path.name + ".part")
    try:
        _draw(library, kind, name, arguments, part)
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
    print(json.dumps({"file": str(path)}) if arguments.json else path)
    return 0


def _draw(library: Client, kind: str, name: str, arguments: argparse.Namespace,
          part: Path) -> None:
    if kind == "animation":
        gait = library.get(name)
        plots.animation(gait, library.robot_of(gait), part)
        return
    figure = _figure(library, kind, name, arguments)
    ending = Path(arguments.out).suffix[1:]
    if ending == "png":
        _save_png(figure, part)
    else:  # without a date the same gait gives the same file
        date = {"svg": "Date", "pdf": "CreationDate"}[ending]
        figure.savefig(part, format=ending, metadata={date: None})


def _save_png(figure: Figure, path: Path) -> None:
    """Writes few tones with smooth edges, which makes a file small enough for a page of text."""
    memory = io.BytesIO()
    figure.savefig(memory, format="png")
    with Image.open(memory) as image:
        small = image.convert("RGB").quantize(_COLOUR_COUNT, Image.Quantize.MAXCOVERAGE,
                                              dither=Image.Dither.NONE)
    small.save(path, format="PNG", optimize=True)


def _of_a_trial(kind: str, comparison: trial_analysis_pb2.TrialComparison, gait: Gait) -> Figure:
    try:
        return _OF_A_TRIAL[kind](comparison, gait)
    except ValueError as error:  # nothing was measured that could be drawn
        raise InvalidRequest(str(error), "FAILED_PRECONDITION") from None


def _figure(library: Client, kind: str, name: str, arguments: argparse.Namespace) -> Figure:
    if kind in _OF_A_GAIT:
        return _OF_A_GAIT[kind](library, library.get(name))
    if kind in _OF_A_TRIAL:
        comparison = library.compare_trial(name, greatest_delay_s=arguments.greatest_delay)
        return _of_a_trial(kind, comparison, library.get(comparison.gait))
    if kind == "spread" and choose.is_gait_name(name):
        return plots.spread(library.get(name))
    gaits = choose.good_gaits(library, name, arguments.surface, arguments.advance)
    if kind == "spread":
        return plots.spread([gait for gait in gaits if gait.spread is not None])
    return plots.gait_map(gaits, library.modes(name).modes, robot=library.robot_of(gaits[0]))
