"""Builds and runs the benches one after the other and writes one report. Started by tests/bench/run."""
from __future__ import annotations

import argparse
import datetime
import signal
import subprocess
import sys
import time
from pathlib import Path

import bench_list
import bench_process
import key_figures
import machine

EXIT_INTERRUPTED = 130


def begin_report(is_quick: bool) -> dict:
    commit, is_dirty = machine.commit()
    return {"date": datetime.datetime.now(datetime.timezone.utc).isoformat(timespec="seconds"),
            "machine": machine.describe(), "commit": commit, "is_tree_dirty": is_dirty, "is_quick": is_quick,
            "is_interrupted": False, "begin_load": machine.load(), "end_load": None, "seconds": 0.0, "benches": []}


def build(benches: list[bench_list.Bench]) -> None:
    targets = list(dict.fromkeys(target for bench in benches for target in bench.targets))
    print(f"building {', '.join(targets)} (the first time takes long; later only what changed)", flush=True)
    if subprocess.run([machine.ROOT / "deploy" / "build", "release", *targets], check=False).returncode != 0:
        raise machine.Trouble("the build failed")


def run_all(benches: list[bench_list.Bench], report: dict, path: Path) -> None:
    """Runs the benches and keeps the report in its file up to date after each."""
    folder = machine.ROOT / ".build" / "bench"
    folder.mkdir(parents=True, exist_ok=True)
    start = time.monotonic()
    with bench_process.Interrupts() as interrupts:
        for number, bench in enumerate(benches, 1):
            words, limit_s = (bench.quick, bench.quick_limit_s) if report["is_quick"] else (bench.command, bench.limit_s)
            report["benches"].append(bench_process.run(bench_process.Task(
                name=bench.name, place=f"[{number}/{len(benches)}]", words=list(words), limit_s=limit_s,
                root=machine.ROOT, folder=folder, interrupts=interrupts)))
            report.update(end_load=machine.load(), seconds=round(time.monotonic() - start, 1),
                          is_interrupted=interrupts.has_come)
            machine.write_json(path, report)
            if interrupts.has_come:
                return


def exit_code(report: dict) -> int:
    if report["is_interrupted"]:
        return EXIT_INTERRUPTED
    return 1 if any(entry["problem"] for entry in report["benches"]) else 0


def read_arguments(words: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="tests/bench/run", description="Builds and runs the benches one after the other, and writes what they "
        "measured with date, machine, commit and load into one file. A bench that fails or meets its limit does not "
        "stop the rest; the exit code is 1 then, and 130 after an interrupt, which keeps what there is.")
    parser.add_argument("--json", type=Path, required=True, metavar="FILE", help="where the report goes")
    parser.add_argument("--table", type=Path, metavar="FILE", help="where the table of key figures goes as well")
    parser.add_argument("--only", metavar="NAME,NAME",
                        help="of " + ", ".join(bench.name for bench in bench_list.BENCHES))
    parser.add_argument("--quick", action="store_true", help="smaller settings, whose figures say little: a smoke run")
    arguments = parser.parse_args(words)
    try:
        arguments.benches = bench_list.choose(arguments.only.split(",")) if arguments.only else list(bench_list.BENCHES)
    except ValueError as error:
        parser.error(str(error))
    if arguments.quick:
        arguments.benches = [bench for bench in arguments.benches if bench.quick]
    return arguments


def main(words: list[str] | None = None) -> int:
    arguments = read_arguments(words)
    # SIGTERM ends the run as Ctrl-C does.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        report = begin_report(arguments.quick)
        # Now rather than after all benches it turns out whether the file can be written.
        machine.write_json(arguments.json, report)
        build(arguments.benches)
        run_all(arguments.benches, report, arguments.json)
        table = key_figures.table(report)
        print("\n" + table)
        if arguments.table:
            machine.write_whole(arguments.table, table)
        return exit_code(report)
    except machine.Trouble as trouble:
        print(f"tests/bench/run: {trouble}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\ntests/bench/run: interrupted", file=sys.stderr)
        return EXIT_INTERRUPTED
