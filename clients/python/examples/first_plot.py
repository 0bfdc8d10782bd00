"""Orders a gait, or takes it from the library, and draws when each foot stands."""
import gaitshelf
from gaitshelf import plots

with gaitshelf.connect() as library:
    gait = library.order("weevil", "duct-steel", frequency_hz=12, advance_m=0.009)
    plots.footfalls(gait).savefig("footfalls.png")
