"""The verb sweep: a grid of orders with one line of progress."""
from __future__ import annotations

import argparse
import json
import sys
import time
from typing import Optional, TextIO

from google.protobuf import json_format

from ..client import Client
from ..orders import grid
from ..sweep import SweepEntry, SweepProgress
from . import table

EXIT_OK, EXIT_FAILED_JOB = 0, 3
# Elsewhere than on a terminal a line is printed this often at most, s.
_PLAIN_PERIOD_S = 5.0


class ProgressLine:
    """Draws one line over and over on a terminal; prints lines now and then elsewhere."""

    def __init__(self, out: TextIO, is_quiet: bool):
        self._out = out
        self._is_quiet = is_quiet
        self._is_drawn = False
        self._last_s: Optional[float] = None

    def show(self, progress: SweepProgress) -> None:
        """Shows how far the sweep has come."""
        if self._is_quiet:
            return
        line = progress_text(progress)[:table.COLUMNS - 1]
        now_s = time.monotonic()
        if self._out.isatty():
            self._out.write(f"\r{line}\033[K")
            self._is_drawn = True
        elif self._last_s is None or now_s - self._last_s >= _PLAIN_PERIOD_S:
            self._out.write(line + "\n")
            self._last_s = now_s
        self._out.flush()

    def finish(self) -> None:
        """Ends the drawn line, so that other text may follow."""
        if self._is_drawn:
            self._out.write("\n")
            self._out.flush()


def progress_text(progress: SweepProgress) -> str:
    """Returns count, share, rate, remaining time and the order that is looked at, on one line."""
    text = f"{progress.ended_count}/{progress.count} {progress.done_ratio:4.0%}"
    if progress.rate_per_s is not None and progress.remaining_s is not None:
        text += (f" {60.0 * progress.rate_per_s:.3g}/min, "
                 f"{table.duration(progress.remaining_s)} left")
    return f"{text}; {progress.order}"


def run(library: Client, arguments: argparse.Namespace) -> int:
    """Orders every cell of the grid and prints what came of each."""
    orders = grid(arguments.robot, arguments.surface, arguments.frequency, arguments.advance)
    line = ProgressLine(sys.stderr, arguments.quiet)
    try:
        entries = library.sweep(orders, progress=line.show)
    finally:
        line.finish()
    print(to_json(entries) if arguments.json else to_text(entries))
    return EXIT_OK if all(entry.is_good for entry in entries) else EXIT_FAILED_JOB


def to_text(entries: list[SweepEntry]) -> str:
    """Returns a table with a row for each order, and why any failed."""
    rows = []
    for entry in entries:
        got = f"{1e3 * entry.gait.replayed_advance_m:.2f}" if entry.is_good and entry.gait else "-"
        rows.append([entry.order.surface[:10], f"{entry.order.frequency_hz:g}",
                     f"{1e3 * (entry.order.advance_m or 0.0):g}", got,
                     "good" if entry.is_good else "failed", entry.gait.name if entry.gait else "-"])
    lines = [table.to_text(["surface", ">Hz", ">mm", ">got mm", "verdict", "gait"], rows)]
    lines += [f"failed: {entry.order}\n  {entry.failure}" for entry in entries if entry.failure]
    good_count = sum(entry.is_good for entry in entries)
    return "\n".join(lines + [f"{good_count} of {len(entries)} good"])


def to_json(entries: list[SweepEntry]) -> str:
    """Returns {"entries": [...]}, with the order in the field names of the messages."""
    return json.dumps({"entries": [{
        "order": json_format.MessageToDict(entry.order.message(), preserving_proto_field_name=True),
        "is_good": entry.is_good,
        "gait": entry.gait.name if entry.gait else "",
        "replayed_advance_m": entry.gait.replayed_advance_m if entry.gait else None,
        "failure_reason": entry.failure.job.failure_reason if entry.failure else "",
    } for entry in entries]}, indent=1)
