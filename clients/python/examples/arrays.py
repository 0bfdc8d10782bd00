"""Takes a gait as NumPy arrays: the work of its drives and how close its feet come to sliding."""
import numpy as np

import gaitshelf

with gaitshelf.connect() as library:
    gait = library.order("weevil", "duct-steel", frequency_hz=12, advance_m=0.009)
    friction = library.surface_of(gait).friction_coefficient

print(f"{gait.knot_count} knots, {gait.knot_period_s * 1e3:.2f} ms apart; legs "
      f"{', '.join(gait.leg_names)}")
for leg, lift_m, swing_m in zip(gait.leg_names, gait.lift_m.T, gait.swing_m.T):
    print(f"{leg:12} lift {np.ptp(lift_m) * 1e3:.2f} mm, swing {np.ptp(swing_m) * 1e3:.2f} mm")

slew_v_per_s = np.abs(np.diff(gait.voltage_v, axis=0)).max() / gait.knot_period_s
print(f"voltage {gait.voltage_v.min():.0f} to {gait.voltage_v.max():.0f} V, "
      f"at most {slew_v_per_s / 1e3:.1f} V/ms")

normal_n = gait.foot_force_n[:, :, 2]
tangential_n = np.hypot(gait.foot_force_n[:, :, 0], gait.foot_force_n[:, :, 1])
used_ratio = tangential_n[gait.is_contact] / (friction * normal_n[gait.is_contact])
print(f"friction used: {np.median(used_ratio):.0%} of its limit in the median")
