"""The connection to one server and what can be asked of it."""
from __future__ import annotations

import getpass
import os
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Callable, Iterable, Iterator, Optional, Union

import grpc
import numpy as np

from gaitshelf.v1 import (calibration_service_pb2_grpc, gait_pb2, job_pb2, job_service_pb2,
                          job_service_pb2_grpc, library_service_pb2, library_service_pb2_grpc,
                          model_service_pb2_grpc, playback_service_pb2, playback_service_pb2_grpc,
                          task_pb2, trial_service_pb2_grpc)

from .calibration_calls import CalibrationCalls
from .channel import open_channel
from .description_calls import DescriptionCalls
from .errors import GaitshelfError, InvalidRequest, JobFailed, NotFound, Unreachable, from_rpc
from .gait import Gait
from .orders import Order, Transition
from .sweep import Sweep, SweepEntry, SweepProgress
from .trial_calls import TrialCalls

Progress = Callable[[job_pb2.PlanProgress], None]

# Time that a call which should answer at once may take.
_SHORT_S = 30.0
# Time that a server which went away during a watch may need to come back.
_PATIENCE_S = 60.0
_ENDED = (job_pb2.JOB_STATE_DONE, job_pb2.JOB_STATE_FAILED, job_pb2.JOB_STATE_CANCELLED)


def default_address() -> str:
    """Returns GAITSHELF_SERVER, else the socket that gaitshelfd makes by default."""
    folder = os.environ.get("XDG_RUNTIME_DIR") or "/tmp"
    return os.environ.get("GAITSHELF_SERVER") or f"unix:{folder}/gaitshelf.sock"


def connect(address: Optional[str] = None, identity: Union[str, Path, None] = None) -> "Client":
    """Connects to a server, such as "unix:/run/gaitshelf.sock", "127.0.0.1:50700" or "gait.lab:50700".

    identity: folder with ca.pem, member.pem and member.key, as deploy/lab-ca makes it, for a server
    on another machine; default is GAITSHELF_IDENTITY.

    Does not wait for the server: the first call does, and raises Unreachable when nobody answers.
    Raises GaitshelfError when the identity is missing or cannot be read.
    """
    return Client(address or default_address(), identity or os.environ.get("GAITSHELF_IDENTITY"))


@dataclass(frozen=True)
class Setpoints:
    """Successive setpoints of a stream: n samples of L legs and F feet."""

    time_s: np.ndarray
    """Time of each sample after the start of the stream, n, s."""
    phase_ratio: np.ndarray
    """Phase of the gait, n, 0 to 1; -1 while ramping."""
    leg_position_m: np.ndarray
    """Lift and swing of each leg, n x 2L, m."""
    leg_rate_m_per_s: np.ndarray
    """Their rates, n x 2L, m/s."""
    voltage_v: np.ndarray
    """Feed-forward voltage, n x 2L, V."""
    is_contact: np.ndarray
    """Planned contact of each foot, n x F, bool."""
    body_position_m: np.ndarray
    """Planned body frame in the surface frame, n x 3, m."""
    body_attitude_rad: np.ndarray
    """Planned roll, pitch, yaw, n x 3, rad."""


class Client(CalibrationCalls, DescriptionCalls, TrialCalls):
    """A connection. Use it in a with statement, or call close(). Threads may share it."""

    def __init__(self, address: str, identity: Union[str, Path, None] = None):
        self.address = address
        self._channel = open_channel(address, identity, [
            ("grpc.max_receive_message_length", 16 << 20),
            ("grpc.initial_reconnect_backoff_ms", 200),
            ("grpc.max_reconnect_backoff_ms", 1000)])
        self._library = library_service_pb2_grpc.LibraryServiceStub(self._channel)
        self._jobs = job_service_pb2_grpc.JobServiceStub(self._channel)
        self._playback = playback_service_pb2_grpc.PlaybackServiceStub(self._channel)
        self._model = model_service_pb2_grpc.ModelServiceStub(self._channel)
        self._trials = trial_service_pb2_grpc.TrialServiceStub(self._channel)
        self._calibrations = calibration_service_pb2_grpc.CalibrationServiceStub(self._channel)

    def close(self) -> None:
        """Ends the connection; jobs go on."""
        self._channel.close()

    def __enter__(self) -> "Client":
        return self

    def __exit__(self, *_) -> None:
        self.close()

    def _call(self, method, request, timeout_s: float = _SHORT_S):
        try:
            return method(request, timeout=timeout_s)
        except grpc.RpcError as error:
            raise self._translate(error) from None

    def _translate(self, error: grpc.RpcError) -> GaitshelfError:
        translated = from_rpc(error)
        if isinstance(translated, Unreachable):
            return Unreachable(f"no server answers at {self.address}: {error.details()}",
                               translated.code)
        return translated

    # Gaits

    def order(self, robot: str, surface: str, *, frequency_hz: float = 0.0,
              advance_m: Optional[float] = None, hop_m: Optional[float] = None,
              sidestep_m: float = 0.0, turn_rad: float = 0.0, is_maximal: bool = False,
              stand_m: Optional[float] = None, roll_rad: float = 0.0, pitch_rad: float = 0.0,
              objective: str = "", also_on: Iterable[str] = (),
              transition: Optional[Transition] = None,
              progress: Optional[Progress] = None, seed: str = "", rng: int = 0,
              knot_count: int = 0, anew: bool = False) -> Gait:
        """Returns a good gait: from the library at once, or by a solve that this call waits for.

        Say a gait by frequency_hz (Hz) and advance_m, sidestep_m (to the left), both m per cycle,
        turn_rad (to the left, per cycle) or is_maximal; a hop by hop_m (rise, m), over a distance
        with advance_m; a posture by stand_m, roll_rad and pitch_rad; or the way from one gait into
        another by transition. Order has them all.
        objective: what is made small: "effort", "energy", "smooth" or "peak".
        also_on: further surfaces on which the same gait must be good.
        progress: called with a PlanProgress (violation_ratio, done_ratio, ...) as the solve goes on.
        seed: footfalls to start from: "trot", "walk", "pace", "bound", "pronk".
        anew: solve although the library has a good gait.

        Raises InvalidRequest, NotFound, JobFailed (infeasible, failed audit, cancelled),
        Unreachable. An exception out of `progress` or Ctrl-C leaves the job running; the same order
        joins it again.
        """
        outcome = self.submit(Order(robot, surface, frequency_hz, advance_m, hop_m, sidestep_m,
                                    turn_rad, is_maximal, stand_m, roll_rad, pitch_rad, objective,
                                    tuple(also_on), transition),
                              seed=seed, rng=rng, knot_count=knot_count, anew=anew)
        if isinstance(outcome, gait_pb2.GaitSummary):
            return self.get(outcome.name)
        return self.get(self.watch(outcome.name, progress).gait)

    def submit(self, order: Order, *, seed: str = "", rng: int = 0, knot_count: int = 0,
               anew: bool = False) -> Union[gait_pb2.GaitSummary, job_pb2.Job]:
        """Orders a gait without waiting: returns what the library has, or the job to watch.

        Options and errors are those of order; a full queue is a GaitshelfError with code
        "RESOURCE_EXHAUSTED".
        """
        request = job_service_pb2.OrderGaitRequest(
            order=order.message(), requester=getpass.getuser()[:63], solve_anew=anew)
        request.order.options.rng = rng
        request.order.options.knot_count = knot_count
        if seed:
            try:
                request.order.options.seed_pattern = task_pb2.SeedPattern.Value(
                    f"SEED_PATTERN_{seed.upper()}")
            except ValueError:
                raise InvalidRequest(f"seed is '{seed}'; use trot, walk, pace, bound or pronk",
                                     "INVALID_ARGUMENT") from None
        response = self._call(self._jobs.OrderGait, request)
        return getattr(response, response.WhichOneof("outcome"))

    def sweep(self, orders: Iterable[Order],
              progress: Optional[Callable[[SweepProgress], None]] = None) -> list[SweepEntry]:
        """Orders a set of gaits, waits for all and returns one SweepEntry for each, in their order.

        orders: such as gaitshelf.grid(robot, surfaces, frequencies_hz, advances_m) returns.
        progress: called with one SweepProgress for the whole set.

        An order that cannot be met does not end the sweep; its entry tells why. Raises
        InvalidRequest with the faults of all orders before anything is solved, NotFound, and
        Unreachable. Ctrl-C leaves the jobs running; the same sweep joins them again.
        """
        return Sweep(self, list(orders), progress).run()

    def watch(self, job: str, progress: Optional[Progress] = None) -> job_pb2.Job:
        """Waits until a job is done and returns it; raises JobFailed when it made no good gait.

        Goes on when a server that has answered is then away for up to a minute.
        """
        give_up = None  # no answer yet
        while True:
            last = None
            try:
                for response in self._jobs.WatchJob(job_service_pb2.WatchJobRequest(name=job)):
                    last = response.job
                    give_up = time.monotonic() + _PATIENCE_S
                    if progress is not None and last.HasField("progress"):
                        progress(last.progress)
            except grpc.RpcError as error:
                is_away = error.code() == grpc.StatusCode.UNAVAILABLE
                if not is_away or give_up is None or time.monotonic() > give_up:
                    raise self._translate(error) from None
            if last is not None and last.state == job_pb2.JOB_STATE_DONE:
                return last
            if last is not None and last.state in _ENDED:
                raise JobFailed(last)
            time.sleep(0.5)

    def find(self, robot: str, surface: str, *, frequency_hz: float = 0.0,
             advance_m: Optional[float] = None, hop_m: Optional[float] = None,
             sidestep_m: float = 0.0, turn_rad: float = 0.0, is_maximal: bool = False,
             stand_m: Optional[float] = None, roll_rad: float = 0.0, pitch_rad: float = 0.0,
             objective: str = "") -> Optional[Gait]:
        """Returns the best good gait of the library, or None; never starts a solve.

        Arguments are those of order.
        """
        return self.find_order(Order(robot, surface, frequency_hz, advance_m, hop_m, sidestep_m,
                                     turn_rad, is_maximal, stand_m, roll_rad, pitch_rad, objective))

    def find_order(self, order: Order) -> Optional[Gait]:
        """As find, for an Order."""
        request = library_service_pb2.FindGaitRequest(order=order.message())
        try:
            summary = self._call(self._library.FindGait, request)
        except NotFound:
            return None
        return self.get(summary.name)

    def get(self, name: str) -> Gait:
        """Returns a gait by its name, good or not; raises NotFound."""
        return Gait(self._call(self._library.GetGait, library_service_pb2.GetGaitRequest(name=name)))

    def list(self, robot: str = "", surface: str = "", only_good: bool = False
             ) -> "list[gait_pb2.GaitSummary]":
        """Returns summaries of the library's gaits, newest first."""
        request = library_service_pb2.ListGaitsRequest(
            robot=robot, surface=surface, only_good=only_good, page_size=1000)
        gaits = []
        while True:
            page = self._call(self._library.ListGaits, request)
            gaits += page.gaits
            if not page.next_page_token:
                return gaits
            request.page_token = page.next_page_token

    def cancel(self, job: str) -> job_pb2.Job:
        """Cancels a queued or running job and returns it."""
        return self._call(self._jobs.CancelJob, job_service_pb2.CancelJobRequest(name=job))

    # Playback

    def stream(self, gait: str, duration_s: float, *, sample_rate_hz: float = 1000.0,
               is_preview: bool = False, is_unpaced: bool = False, armed_by: str = ""
               ) -> Iterator[Setpoints]:
        """Yields blocks of setpoints, each some time before it is due.

        Say either is_preview (samples are only looked at) or armed_by, the name of the present
        person who arms the drive. CAUTION: an armed stream moves parts and puts 100 to 300 V on
        piezo actuators, which stay charged afterwards; local codes, the maker's manual and a
        licensed or trained person decide whether that is safe.
        """
        request = playback_service_pb2.StreamSetpointsRequest(
            gait=gait, duration_s=duration_s, sample_rate_hz=sample_rate_hz,
            is_preview=is_preview, is_unpaced=is_unpaced, armed_by=armed_by)
        call = self._playback.StreamSetpoints(request)
        expected = 0
        try:
            for block in call:
                if block.first_sample != expected:
                    raise GaitshelfError(
                        f"the stream jumped from sample {expected} to {block.first_sample}",
                        "DATA_LOSS")
                expected += block.sample_count
                yield _setpoints(block)
        except grpc.RpcError as error:
            raise self._translate(error) from None
        finally:
            call.cancel()


def _setpoints(block: playback_service_pb2.SetpointBlock) -> Setpoints:
    count = block.sample_count

    def rows(values, dtype=float) -> np.ndarray:
        return np.array(values, dtype=dtype).reshape(count, -1) if count else np.zeros((0, 0))

    return Setpoints(
        time_s=block.first_sample_time_s + np.arange(count) * block.sample_period_s,
        phase_ratio=np.array(block.phase_ratio),
        leg_position_m=rows(block.leg_position_m),
        leg_rate_m_per_s=rows(block.leg_rate_m_per_s),
        voltage_v=rows(block.voltage_v),
        is_contact=rows(block.contact, bool),
        body_position_m=rows(block.body_position_m),
        body_attitude_rad=rows(block.body_attitude_rad))
