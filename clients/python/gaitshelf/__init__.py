"""Client of a gait library: order, find and stream gaits of small legged robots.

    import gaitshelf

    with gaitshelf.connect() as library:
        gait = library.order("weevil", "duct-steel", frequency_hz=12, advance_m=0.009,
                             progress=lambda p: print(f"{p.done_ratio:4.0%} {p.violation_ratio:.1e}"))
        print(gait.name, gait.replayed_advance_m)
        print(gait.leg_position_m.shape)    # knots x (2 x legs)

Every quantity is in SI units and carries its unit in its name. Runs under /usr/bin/python3 with
Debian's python3-grpcio, python3-protobuf and python3-numpy.
"""
from .client import Client, Setpoints, connect
from .errors import (GaitshelfError, InvalidRequest, JobFailed, NotFound, Unreachable, Violation)
from .gait import Gait

__all__ = ["Client", "Gait", "GaitshelfError", "InvalidRequest", "JobFailed", "NotFound",
           "Setpoints", "Unreachable", "Violation", "connect"]
