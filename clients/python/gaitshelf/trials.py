"""Measured runs: logs as arrays, and the messages that carry them."""
from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Iterator, Mapping, Sequence

import numpy as np

from gaitshelf.v1 import trial_pb2, trial_service_pb2

from .errors import InvalidRequest

# Values of one message, 0.8 MB.
_MOST_BLOCK_VALUES = 100_000


@dataclass(frozen=True)
class TrialLog:
    """Columns that share their sample times and their clock."""

    name: str
    """Name within the trial, such as "board"."""
    clock: str
    """Whose clock the times are on: "on-board", "tracking" or "bench"."""
    columns: Mapping[str, np.ndarray]
    """Samples by label, such as "body x [mm]", each in the unit of its label; NaN is missing."""
    sample_rate_hz: float = 0.0
    """Rows per second, Hz, when no column holds the time."""

    def group(self) -> trial_pb2.TrialGroup:
        """Returns the description of the log; raises InvalidRequest when it cannot be sent."""
        lengths = {label: len(values) for label, values in self.columns.items()}
        if len(set(lengths.values())) > 1:
            raise InvalidRequest(f"columns of log '{self.name}' differ in length: {lengths}",
                                 "INVALID_ARGUMENT")
        try:
            clock = trial_pb2.TrialClock.Value(
                f"TRIAL_CLOCK_{self.clock.upper().replace('-', '_')}")
        except ValueError:
            raise InvalidRequest(f"clock is '{self.clock}'; use on-board, tracking or bench",
                                 "INVALID_ARGUMENT") from None
        return trial_pb2.TrialGroup(
            name=self.name, clock=clock, sample_rate_hz=self.sample_rate_hz,
            columns=[trial_pb2.TrialColumn(label=label) for label in self.columns],
            row_count=next(iter(lengths.values()), 0))

    def blocks(self, index: int) -> Iterator[trial_pb2.TrialBlock]:
        """Yields the samples in blocks, for the log of this number in its trial."""
        rows = np.column_stack([np.asarray(v, dtype=float) for v in self.columns.values()])
        step = max(1, _MOST_BLOCK_VALUES // max(1, rows.shape[1]))
        for first in range(0, len(rows), step):
            yield trial_pb2.TrialBlock(
                group_index=index, first_row=first,
                values_as_labelled=rows[first:first + step].ravel())


@dataclass(frozen=True)
class TrialPose:
    """The estimated pose of the body at T times."""

    time_s: np.ndarray
    """Times on the controller's clock, T, s."""
    body_position_m: np.ndarray
    """Body frame in the frame of the tracking, T x 3, m."""
    body_attitude_rad: np.ndarray
    """Roll, pitch and yaw, T x 3, rad; yaw goes on past pi."""
    delay_s: float
    """By how much tracked poses were taken to come late, s."""


def pose_of(blocks: Sequence[trial_service_pb2.TrialPoseBlock]) -> TrialPose:
    """Returns the poses of all blocks that the server sent."""
    def join(rows, width):
        arrays = [np.array(row) for row in rows]
        return np.concatenate(arrays).reshape(-1, width) if arrays else np.zeros((0, width))
    return TrialPose(time_s=join((b.time_s for b in blocks), 1)[:, 0],
                     body_position_m=join((b.body_position_m for b in blocks), 3),
                     body_attitude_rad=join((b.body_attitude_rad for b in blocks), 3),
                     delay_s=blocks[0].delay_s if blocks else 0.0)


def upload_requests(trial: trial_pb2.Trial, logs: Sequence[TrialLog]
                    ) -> Iterator[trial_service_pb2.UploadTrialRequest]:
    """Returns what an upload sends: the description, then the samples.

    Raises InvalidRequest at once, since gRPC hides what goes wrong on the way.
    """
    described = trial_pb2.Trial()
    described.CopyFrom(trial)
    described.groups.extend(log.group() for log in logs)
    first = trial_service_pb2.UploadTrialRequest(trial=described)
    rest = (trial_service_pb2.UploadTrialRequest(block=block)
            for index, log in enumerate(logs) for block in log.blocks(index))
    return itertools.chain([first], rest)


def logs_of(trial: trial_pb2.Trial, blocks: Sequence[trial_pb2.TrialBlock]) -> list[TrialLog]:
    """Returns the logs of a trial from the blocks that the server sends."""
    logs = []
    for index, group in enumerate(trial.groups):
        width = len(group.columns)
        values = [np.array(b.values_as_labelled) for b in blocks if b.group_index == index]
        rows = np.concatenate(values).reshape(-1, width) if values else np.zeros((0, width))
        clock = trial_pb2.TrialClock.Name(group.clock).replace("TRIAL_CLOCK_", "")
        logs.append(TrialLog(group.name, clock.lower().replace("_", "-"),
                             {c.label: rows[:, k] for k, c in enumerate(group.columns)},
                             group.sample_rate_hz))
    return logs
