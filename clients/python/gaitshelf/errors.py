"""Errors of the client. Each carries what the server said, whole."""
from __future__ import annotations

from typing import Iterable, NamedTuple

import grpc

from gaitshelf.v1 import check_pb2, job_pb2

try:  # A second copy of these messages cannot be loaded beside somebody else's package of them.
    from google.rpc import error_details_pb2, status_pb2
except ImportError:
    from gaitshelf.rpc import error_details_pb2, status_pb2


class Violation(NamedTuple):
    """One fault of a request."""

    field: str
    description: str


class GaitshelfError(Exception):
    """Anything that went wrong on the way to an answer.

    code: the status code as gRPC names it, such as "NOT_FOUND".
    violations: every fault of the request; empty when the request was not at fault.
    """

    def __init__(self, message: str, code: str = "", violations: tuple[Violation, ...] = ()):
        lines = [message, *(f"  {v.field}: {v.description}" for v in violations)]
        super().__init__("\n".join(lines))
        self.code = code
        self.violations = violations


class InvalidRequest(GaitshelfError):
    """A description or an order breaks a rule; `violations` says which, all at once."""


class NotFound(GaitshelfError):
    """The library has no such robot, surface, gait or job."""


class Unreachable(GaitshelfError):
    """No server answers at the address, or it went away."""


class JobFailed(GaitshelfError):
    """A job ended without a good gait: infeasible, failed its audit, or cancelled.

    job: the job as it ended; `job.gait` names what is kept for study, if anything.
    """

    def __init__(self, job: job_pb2.Job):
        state = job_pb2.JobState.Name(job.state).removeprefix("JOB_STATE_").lower()
        super().__init__(f"job {job.name} {state}: {job.failure_reason or 'on request'}",
                         code=state.upper())
        self.job = job


def from_violations(path: str, violations: Iterable[check_pb2.FieldViolation]) -> InvalidRequest:
    """Returns the error of a file whose text has faults."""
    faults = tuple(Violation(v.field, f"is {v.value}; {v.problem}; {v.mend} (line {v.line}, "
                                      f"column {v.column})") for v in violations)
    return InvalidRequest(f"{path}: {len(faults)} fault{'s' if len(faults) > 1 else ''}",
                          "INVALID_ARGUMENT", faults)


_CLASSES = {
    grpc.StatusCode.INVALID_ARGUMENT: InvalidRequest,
    grpc.StatusCode.NOT_FOUND: NotFound,
    grpc.StatusCode.UNAVAILABLE: Unreachable,
}


def from_rpc(error: grpc.RpcError) -> GaitshelfError:
    """Returns the error with the faults that ride in google.rpc.BadRequest unpacked."""
    violations = []
    for key, value in error.trailing_metadata() or ():
        if key != "grpc-status-details-bin":
            continue
        for detail in status_pb2.Status.FromString(value).details:
            bad_request = error_details_pb2.BadRequest()
            if detail.Unpack(bad_request):
                violations += [Violation(v.field, v.description)
                               for v in bad_request.field_violations]
    message = error.details() or ""
    # gRPC says nothing of a call that there is not; what a server says itself stands.
    if error.code() == grpc.StatusCode.UNIMPLEMENTED and not message:
        message = "the server does not know this call: it is older than this package; update it"
    if violations:
        # The message repeats the faults for clients that cannot read them.
        message = f"the request has {len(violations)} fault{'s' if len(violations) > 1 else ''}"
    return _CLASSES.get(error.code(), GaitshelfError)(
        message, error.code().name, tuple(violations))
