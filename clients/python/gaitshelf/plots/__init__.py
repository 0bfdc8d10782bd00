"""Pictures of gaits, one function each; every one returns a Matplotlib Figure.

    from gaitshelf import plots

    plots.footfalls(gait).savefig("footfalls.png")

Nothing here opens a window or touches the state of pyplot. Pictures tell series apart by line style
and marker as well as by colour, so that they can be read in grey print. Lengths are drawn in mm,
forces in mN, angles in degrees. A gait that is not good says so in its title.
"""
from .animation import animation
from .body_path import body_path
from .contact_forces import contact_forces
from .footfalls import footfalls
from .gait_map import gait_map
from .leg_trajectories import leg_trajectories
from .spread import spread
from .trial_against_plan import trial_against_plan
from .trial_strides import trial_strides

__all__ = ["animation", "body_path", "contact_forces", "footfalls", "gait_map", "leg_trajectories",
           "spread", "trial_against_plan", "trial_strides"]
