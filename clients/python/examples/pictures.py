"""Draws every picture of one gait, also as vector graphics, and an animation."""
import gaitshelf
from gaitshelf import plots

with gaitshelf.connect() as library:
    gait = library.order("weevil", "duct-steel", frequency_hz=12, advance_m=0.009)
    plots.footfalls(gait).savefig("footfalls.svg")
    plots.leg_trajectories(gait).savefig("legs.png")
    plots.contact_forces(gait, library.surface_of(gait)).savefig("forces.png")
    plots.body_path(gait).savefig("body.png")
    plots.spread(gait).savefig("spread.png")
    plots.animation(gait, library.robot_of(gait), "gait.gif", cycles=1)
