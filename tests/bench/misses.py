#!/usr/bin/python3
"""Measures how long a person waits for a gait that the library does not have.

Usage: misses.py [--orders N] [--robot NAME] [--frequency HZ] [--json FILE]

Orders advances of 9, 8 and 7 mm a cycle on each surface of the demonstration, one after the other, from a server
with a fresh library and one worker. A miss lasts from the order to the whole gait at the client: worker, plan,
audit, and what else lies between.
"""
from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
import time
from pathlib import Path

import bench_server
import machine

import gaitshelf

SURFACES = ("duct-steel", "liner-felt", "grit-tape")
ADVANCES_M = (0.009, 0.008, 0.007)


def orders(robot: str, frequency_hz: float, count: int) -> list[gaitshelf.Order]:
    every = [gaitshelf.Order(robot, surface, frequency_hz, advance_m)
             for advance_m in ADVANCES_M for surface in SURFACES]
    return every[:count]


def measure(client: gaitshelf.Client, order: gaitshelf.Order) -> dict:
    start = time.monotonic()
    try:
        gait = client.order(order.robot, order.surface, frequency_hz=order.frequency_hz, advance_m=order.advance_m)
    except gaitshelf.JobFailed as failure:
        return {"order": str(order), "good": False, "miss_s": time.monotonic() - start, "reason": str(failure)}
    miss_s = time.monotonic() - start
    audit = gait.message.audit
    return {"order": str(order), "good": gait.is_good, "miss_s": miss_s, "solve_s": gait.message.report.solve_s,
            "replay_cpu_s": audit.replay.cpu_s, "spread_cpu_s": audit.spread.cpu_s, "hand_tuned_cpu_s": audit.hand_tuned.cpu_s}


def measure_all(folder: Path, arguments: argparse.Namespace) -> list[dict]:
    rows = []
    with bench_server.Server(folder) as server, gaitshelf.connect(server.address) as client:
        client.put_robot(bench_server.DEMO / f"{arguments.robot}.robot.textproto")
        for surface in SURFACES:
            client.put_surface(bench_server.DEMO / f"{surface}.surface.textproto")
        for order in orders(arguments.robot, arguments.frequency, arguments.orders):
            rows.append(measure(client, order))
            print(f"{rows[-1]['miss_s']:7.2f} s  {'good' if rows[-1]['good'] else 'not good'}  {order}", flush=True)
    return rows


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    most = len(SURFACES) * len(ADVANCES_M)
    parser.add_argument("--orders", type=int, choices=range(1, most + 1), default=most, metavar="N")
    parser.add_argument("--robot", default="weevil", choices=("weevil", "weevil-lumped", "earwig"))
    parser.add_argument("--frequency", type=float, default=12.0, help="stride frequency, Hz")
    parser.add_argument("--json", type=Path)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="gaitshelf-") as folder:
        rows = measure_all(Path(folder), arguments)
    good = [row for row in rows if row["good"]]
    if not good:
        raise machine.Trouble("no order came out good")
    median_s = statistics.median(row["miss_s"] for row in good)
    print(f"{len(good)} of {len(rows)} good; a miss takes {median_s:.2f} s in the median")
    if arguments.json:
        machine.write_json(arguments.json, {
            "robot": arguments.robot, "frequency_hz": arguments.frequency, "order_count": len(rows),
            "good_count": len(good), "median_miss_s": median_s,
            "median_solve_s": statistics.median(row["solve_s"] for row in good), "misses": rows,
            "machine": machine.describe()})
    return 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except (machine.Trouble, gaitshelf.GaitshelfError) as trouble:
        print(f"misses: {trouble}", file=sys.stderr)
        sys.exit(1)
