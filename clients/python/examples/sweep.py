"""Orders a set of gaits with one progress, draws a map of them and tells why any failed."""
import gaitshelf
from gaitshelf import plots


def show(progress):
    print(f"\r{progress.done_ratio:4.0%} {progress.ended_count}/{progress.count}  "
          f"{progress.order!s:60}", end="", flush=True)


with gaitshelf.connect() as library:
    orders = gaitshelf.grid("weevil", surfaces=["duct-steel", "liner-felt"],
                            frequencies_hz=[12, 28], advances_m=[0.009])
    entries = library.sweep(orders, progress=show)
    gaits = [entry.gait for entry in entries if entry.gait is not None]
    plots.gait_map(gaits, library.modes("weevil").modes).savefig("map.png")
    plots.spread(gaits).savefig("spread.png")
print()
for entry in entries:
    print(entry.order, "good" if entry.is_good else entry.failure)
