"""Stores a measured run of a gait, has it analysed, and draws its mean cycle over the plan's.

The run is invented: the plan itself with legs that lag, and noise, as sensors have it.
"""
import numpy as np

import gaitshelf
from gaitshelf import plots
from gaitshelf.v1 import trial_pb2

CYCLES, SAMPLES = 12, 80  # samples a cycle


def invent_log(gait):
    """Returns what a controller could have logged: phase, legs, contacts, way of the body."""
    rng = np.random.default_rng(7)
    phase = np.tile(np.arange(SAMPLES) / SAMPLES, CYCLES)
    time_s = np.arange(CYCLES * SAMPLES) / SAMPLES / gait.frequency_hz

    def played(knots, lag_ratio, noise):
        """Reads a column of the plan at the phases, late, and with noise."""
        at = np.append(gait.phase_ratio, 1.0)
        values = np.interp((phase - lag_ratio) % 1.0, at, np.append(knots, knots[0]))
        return values + rng.normal(0.0, noise, len(phase))

    way_m = np.arange(CYCLES * SAMPLES) / SAMPLES * gait.advance_m
    columns = {"time [s]": time_s, "phase": phase, "body y [mm]": 0.0 * way_m,
               "body x [mm]": 1e3 * way_m + rng.normal(0.0, 0.02, len(phase))}
    for k, leg in enumerate(gait.leg_names):
        columns[f"{leg} lift [mm]"] = played(1e3 * gait.lift_m[:, k], 0.015, 0.05)
        columns[f"{leg} swing [mm]"] = played(1e3 * gait.swing_m[:, k], 0.015, 0.05)
        knot = (phase * gait.knot_count).astype(int)
        columns[f"{gait.foot_names[k]} contact"] = gait.is_contact[knot, k].astype(float)
    return gaitshelf.TrialLog("board", "on-board", columns)


with gaitshelf.connect() as library:
    gait = library.order("weevil", "duct-steel", frequency_hz=12, advance_m=0.009)
    trial = library.put_trial(trial_pb2.Trial(kind=trial_pb2.TRIAL_KIND_GAIT, gait=gait.name,
                                              title="plan with noise", is_invented=True),
                              [invent_log(gait)])
    analysis = library.analyse_trial(trial.name)
    print(f"{trial.name}: {analysis.stride_m.mean_si * 1e3:.2f} mm per cycle, "
          f"planned {gait.advance_m * 1e3:.2f} mm")
    plots.trial_against_plan(analysis, gait).savefig("trial.png")
