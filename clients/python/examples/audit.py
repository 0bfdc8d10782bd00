"""Prints what the audit says of the gaits in the library."""
import gaitshelf

with gaitshelf.connect() as library:
    for summary in library.list(robot="weevil"):
        gait = library.get(summary.name)
        print(gait)
        for reason in gait.reasons:
            print("  failed:", reason)
        laws = {law: ratio for law, ratio in gait.residual_ratio.items() if law != "worst"}
        worst = max(laws, key=laws.get)
        print(f"  worst law: {worst}, {laws[worst]:.1e} of its scale")
        print(f"  replayed {gait.replay.plan_ratio:.1%} of what was planned, "
              f"drives at most {gait.replay.peak_slew_v_per_s / 1e3:.0f} V/ms")
        if gait.spread is not None:
            print(f"  5th percentile {gait.spread.p05_m * 1e3:.2f} mm "
                  f"over {gait.spread.replay_count} replays")
        if gait.hand_tuned is not None:
            print(f"  the best hand-tuned gait goes {gait.hand_tuned.advance_m * 1e3:.2f} mm")
