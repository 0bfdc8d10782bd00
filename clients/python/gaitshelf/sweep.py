"""A set of orders with one progress. The server knows single orders only: a loop over them."""
from __future__ import annotations

import time
from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING, Callable, Optional, Sequence

from gaitshelf.v1 import job_pb2

from .errors import GaitshelfError, InvalidRequest, JobFailed, NotFound, Violation
from .gait import Gait
from .orders import Order

if TYPE_CHECKING:
    from .client import Client

# Time until a full queue is tried again when none of its jobs is ours, s.
_FULL_QUEUE_S = 1.0
# Share of one order that must be solved before a rate is told: less is a guess.
_LEAST_SOLVED = 0.2


@dataclass(frozen=True)
class SweepProgress:
    """How far a sweep has come."""

    count: int
    """Number of orders."""
    ended_count: int
    """Number of orders that have ended, with a good gait or without."""
    done_ratio: float
    """Estimated share of the work done, 0 to 1, never falling."""
    order: Order
    """The order that is looked at now; others may be solved beside it."""
    plan: Optional[job_pb2.PlanProgress]
    """How far its solve has come; None before the first word of its worker."""
    rate_per_s: Optional[float] = None
    """Orders that are solved per second; None until there is something to judge by."""
    remaining_s: Optional[float] = None
    """Time that the rest will take at this rate, s; None as for rate_per_s."""


@dataclass(frozen=True)
class SweepEntry:
    """What came of one order of a sweep."""

    order: Order
    """What was asked for."""
    gait: Optional[Gait]
    """The gait; of a failed job the one that it kept for study, if any."""
    failure: Optional[JobFailed]
    """Why there is no good gait; None when there is one."""

    @property
    def is_good(self) -> bool:
        """True when the order was met."""
        return self.failure is None


class Sweep:
    """One run through a set of orders. Used by Client.sweep."""

    def __init__(self, client: Client, orders: Sequence[Order],
                 progress: Optional[Callable[[SweepProgress], None]]):
        self._client = client
        self._orders = orders
        self._progress = progress
        self._entries: list[Optional[SweepEntry]] = [None] * len(orders)
        self._waiting: deque[int] = deque()
        self._open: deque[tuple[int, str]] = deque()
        self._done_ratio = 0.0
        # When solving began, and how much was done then: answers of the library say nothing of pace.
        self._start_s: Optional[float] = None
        self._start_ratio = 0.0

    def run(self) -> list[SweepEntry]:
        """Returns one entry for each order, in their order."""
        self._look()
        self._start_s, self._start_ratio = time.monotonic(), self._done_ratio
        while self._waiting or self._open:
            self._submit()
            if self._open:
                index, job = self._open.popleft()
                self._follow(index, job)
            else:
                time.sleep(_FULL_QUEUE_S)
        return [entry for entry in self._entries if entry is not None]

    def _look(self) -> None:
        """Takes what the library has, and raises every fault of every order before any solve."""
        faults = []
        for index, order in enumerate(self._orders):
            try:
                gait = self._client.find_order(order)
            except InvalidRequest as error:
                found = error.violations or (Violation("", str(error)),)
                faults += [Violation(f"orders[{index}].{v.field}".rstrip("."), v.description)
                           for v in found]
                continue
            if gait is None:
                self._waiting.append(index)
            else:
                self._entries[index] = SweepEntry(order, gait, None)
        if faults:
            plural = "s" if len(faults) > 1 else ""
            raise InvalidRequest(f"the sweep has {len(faults)} fault{plural}", "INVALID_ARGUMENT",
                                 tuple(faults))
        ended = [index for index, entry in enumerate(self._entries) if entry]
        if ended:
            self._report(ended[-1], None)

    def _submit(self) -> None:
        """Orders what waits until the server's queue is full."""
        while self._waiting:
            index = self._waiting[0]
            try:
                outcome = self._client.submit(self._orders[index])
            except GaitshelfError as error:
                if error.code == "RESOURCE_EXHAUSTED":
                    return
                raise
            self._waiting.popleft()
            if isinstance(outcome, job_pb2.Job):
                self._open.append((index, outcome.name))
            else:  # somebody else's solve has ended meanwhile
                self._end(index, outcome.name, None)

    def _follow(self, index: int, job: str) -> None:
        try:
            ended = self._client.watch(job, lambda plan: self._report(index, plan))
        except JobFailed as failure:
            self._end(index, failure.job.gait, failure)
        else:
            self._end(index, ended.gait, None)

    def _end(self, index: int, gait: str, failure: Optional[JobFailed]) -> None:
        try:
            found = self._client.get(gait) if gait else None
        except NotFound:
            found = None
        self._entries[index] = SweepEntry(self._orders[index], found, failure)
        self._report(index, None)

    def _report(self, index: int, plan: Optional[job_pb2.PlanProgress]) -> None:
        ended_count = sum(entry is not None for entry in self._entries)
        share = ended_count + (plan.done_ratio if plan is not None else 0.0)
        # A worker that starts anew begins at 0 again.
        self._done_ratio = max(self._done_ratio, share / len(self._orders))
        if self._progress is not None:
            self._progress(SweepProgress(len(self._orders), ended_count, self._done_ratio,
                                         self._orders[index], plan, *self._pace()))

    def _pace(self) -> tuple[Optional[float], Optional[float]]:
        """Returns orders per second and the seconds that the rest takes, or None for both."""
        solved = (self._done_ratio - self._start_ratio) * len(self._orders)
        if self._start_s is None or solved < _LEAST_SOLVED:
            return None, None
        rate_per_s = solved / max(time.monotonic() - self._start_s, 1e-3)
        return rate_per_s, (1.0 - self._done_ratio) * len(self._orders) / rate_per_s
