"""Client of a gait library: order, find and stream gaits of small legged robots.

    import gaitshelf

    with gaitshelf.connect() as library:
        gait = library.order("weevil", "duct-steel", frequency_hz=12, advance_m=0.009,
                             progress=lambda p: print(f"{p.done_ratio:.0%} {p.violation_ratio:.0e}"))
        print(gait.name, gait.replayed_advance_m)
        print(gait.leg_position_m.shape)    # knots x (2 x legs)

Every quantity is in SI units and carries its unit in its name. Pictures are in gaitshelf.plots,
which is imported by name: only it needs Matplotlib. Runs under /usr/bin/python3 with the Python
packages that deploy/install-packages names.
"""
from .client import Client, Progress, Setpoints, connect
from .energy import charging_j, charging_j_per_m
from .errors import (GaitshelfError, InvalidRequest, JobFailed, NotFound, Unreachable, Violation)
from .gait import Gait
from .orders import Order, Transition, grid
from .sweep import SweepEntry, SweepProgress
from .trials import TrialLog, TrialPose

__all__ = ["Client", "Gait", "GaitshelfError", "InvalidRequest", "JobFailed", "NotFound", "Order",
           "Progress", "Setpoints", "SweepEntry", "SweepProgress", "TrialLog", "TrialPose",
           "Transition", "Unreachable", "Violation", "charging_j", "charging_j_per_m", "connect", "grid"]
