"""Plans the demonstration sweep with a server of its own. Started by deploy/first-gait.

Everything is asked through the command `gaitshelf`, as a person would.
"""
from __future__ import annotations

import argparse
import contextlib
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ROBOT = "weevil"
SURFACES = ("duct-steel", "liner-felt", "grit-tape")
FREQUENCIES_HZ = (3, 12, 28)
ADVANCE_M = 0.009
RISE_M = 0.009
HOP_SURFACE = "liner-felt"
STREAM_S = 2
# The server opens its library and socket within a second; a loaded machine gets more.
START_S = 30
STOP_S = 20
# Exit codes of the command, as README.md lists them.
EXIT_FAILED_JOB = 3
EXIT_INTERRUPTED = 130


class Trouble(Exception):
    """Something that ends the run; its text is for a person."""


class Server:
    """gaitshelfd with a library and a socket of its own."""

    def __init__(self, build: Path, folder: Path):
        self.program = build / "bin" / "gaitshelfd"
        self.folder = folder
        self.log = folder / "gaitshelfd.log"
        # A socket's path may have about 100 letters: a checkout may lie deeper than that.
        self.socket_folder = Path(tempfile.mkdtemp(prefix="gaitshelf-"))
        self.address = f"unix:{self.socket_folder / 'gaitshelf.sock'}"
        self.process: subprocess.Popen | None = None

    def start(self) -> None:
        with self.log.open("wb") as log:
            # A session of its own keeps Ctrl-C from reaching it: stop() ends it in order.
            self.process = subprocess.Popen(
                [self.program, "--library", self.folder / "library.db", "--listen", self.address],
                stdout=subprocess.PIPE, stderr=log, start_new_session=True)
        (self.folder / "server.pid").write_text(f"{self.process.pid}\n", encoding="ascii")
        os.set_blocking(self.process.stdout.fileno(), False)
        deadline = time.monotonic() + START_S
        text = b""
        while b"is ready" not in text:
            text += self.process.stdout.read() or b""
            if self.process.poll() is not None or time.monotonic() > deadline:
                raise Trouble(f"the server did not start; its log {self.log} ends with:\n"
                              + self.log.read_text(errors="replace")[-2000:])
            time.sleep(0.02)

    def stop(self) -> None:
        if self.process is not None and self.process.poll() is None:
            self.process.terminate()
            try:
                self.process.wait(STOP_S)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()
        shutil.rmtree(self.socket_folder, ignore_errors=True)


def refuse_to_share(folder: Path) -> None:
    """Raises Trouble when the server of an earlier run with --keep-running still uses the folder."""
    try:
        pid = int((folder / "server.pid").read_text(encoding="ascii"))
        command_line = Path(f"/proc/{pid}/cmdline").read_bytes()
    except (OSError, ValueError):
        return
    # Another program may have the number by now.
    if str(folder / "library.db").encode() in command_line:
        raise Trouble(f"the server of an earlier run is still up (process {pid}); stop it first: "
                      f"kill {pid}")


class Command:
    """The command `gaitshelf` against one server."""

    def __init__(self, build: Path, address: str):
        self.program = build / "bin" / "gaitshelf"
        self.address = address

    def run(self, *words: str) -> dict:
        """Returns the JSON answer, also of a job that ended without a good gait.

        Progress and errors go straight to the terminal.
        """
        process = subprocess.run([self.program, *words, "--json", "--server", self.address],
                                 stdout=subprocess.PIPE, check=False, text=True)
        if process.returncode == EXIT_INTERRUPTED:
            raise KeyboardInterrupt
        if process.returncode not in (0, EXIT_FAILED_JOB):
            raise Trouble(f"gaitshelf {' '.join(words)} ended with {process.returncode}")
        return json.loads(process.stdout) if process.stdout.strip() else {}


def tasks() -> list[dict]:
    """Returns the ten cells of the sweep, neighbours after each other."""
    cells = [{"surface": surface, "frequency_hz": frequency_hz, "task": "advance"}
             for surface in SURFACES for frequency_hz in FREQUENCIES_HZ]
    return cells + [{"surface": HOP_SURFACE, "frequency_hz": 0, "task": "hop"}]


def order_words(cell: dict) -> list[str]:
    what = (["--hop", f"{RISE_M}m"] if cell["task"] == "hop" else
            ["--frequency", f"{cell['frequency_hz']}Hz", "--advance", f"{ADVANCE_M}m"])
    return ["order", "--robot", ROBOT, "--surface", cell["surface"], *what]


def label(cell: dict) -> str:
    at = f"{cell['frequency_hz']} Hz" if cell["task"] == "advance" else "hop"
    return f"{ROBOT} on {cell['surface']}, {at}"


def row(cell: dict, summary: dict | None, gait: dict, wall_s: float) -> dict:
    """Returns one entry of the list `gaits`. Without a gait the verdict is failed."""
    report = gait.get("report", {})
    replay = gait.get("audit", {}).get("replay", {})
    result = dict(cell, verdict="failed", worst_residual=None, advance_m=None,
                  replayed_advance_m=None, solve_s=None, wall_s=round(wall_s, 3), coordinates=None,
                  loop_equations=None, gait=None, peak_voltage_v=None, spread_p05_m=None,
                  hand_tuned_advance_m=None, compile_error=None)
    if not summary:
        return result
    result.update(
        verdict="good" if summary["verdict"] == "VERDICT_GOOD" else "failed",
        worst_residual=summary["worst_residual_ratio"], advance_m=summary["advance_m"],
        replayed_advance_m=summary["replayed_advance_m"], solve_s=summary["solve_s"],
        coordinates=summary["coordinate_count"], loop_equations=summary["loop_equation_count"],
        gait=summary["name"], peak_voltage_v=summary["peak_voltage_v"],
        spread_p05_m=summary["spread_p05_m"], compile_error=summary["compile_error_ratio"],
        hand_tuned_advance_m=summary["hand_tuned_advance_m"] or None,
        touchdowns=report.get("touchdown_count"), slip_m=report.get("slip_m"),
        replayed_touchdowns=replay.get("touchdown_ratio"), replayed_slip_m=replay.get("slip_m"))
    if cell["task"] == "hop":
        result.update(rise_m=summary["rise_m"], replayed_rise_m=summary["replayed_rise_m"])
    return result


def load_demo(command: Command) -> None:
    demo = ROOT / "deploy" / "demo"
    print("loading the demonstration robot and surfaces; their numbers are invented")
    command.run("robot", "put", str(demo / f"{ROBOT}.robot.textproto"))
    for surface in SURFACES:
        command.run("surface", "put", str(demo / f"{surface}.surface.textproto"))


def plan_sweep(command: Command) -> list[dict]:
    rows = []
    for number, cell in enumerate(tasks(), 1):
        print(f"[{number}/{len(tasks())}] {label(cell)}", flush=True)
        start = time.monotonic()
        answer = command.run(*order_words(cell))
        reason = answer.get("job", {}).get("failure_reason")
        if reason:
            print(f"  failed: {reason}")
        wall_s = time.monotonic() - start
        summary = answer.get("gait")
        gait = command.run("show", summary["name"]) if summary else {}
        rows.append(row(cell, summary, gait, wall_s))
    return rows


def gain_text(r: dict) -> str:
    """Says how many percent further the gait goes in its replay than the best hand-tuned one."""
    if not r["hand_tuned_advance_m"]:
        return "-"
    return f"{(r['replayed_advance_m'] / r['hand_tuned_advance_m'] - 1) * 100:+.1f}"


def print_table(rows: list[dict]) -> None:
    """Prints at most 80 columns. For the hop all millimetres are of its rise."""
    print()
    print(f"{'surface':<11}{'Hz':>3}  {'task':<8}{'mm':>5}{'replayed':>9}{'5th':>6}{'gain':>6}"
          f"{'peak V':>7}{'residual':>9}{'solve':>6} verdict")
    for r in rows:
        is_hop = r["task"] == "hop"
        at = "-" if is_hop else str(r["frequency_hz"])
        start = f"{r['surface']:<11}{at:>3}  {r['task']:<8}"
        if r["gait"] is None:
            print(f"{start}{'-':>5}{'-':>9}{'-':>6}{'-':>6}{'-':>7}{'-':>9}{'-':>6} {r['verdict']}")
            continue
        planned_m = r["rise_m"] if is_hop else r["advance_m"]
        replayed_m = r["replayed_rise_m"] if is_hop else r["replayed_advance_m"]
        print(f"{start}{planned_m * 1e3:>5.2f}{replayed_m * 1e3:>9.2f}"
              f"{r['spread_p05_m'] * 1e3:>6.2f}{gain_text(r):>6}{r['peak_voltage_v']:>7.0f}"
              f"{r['worst_residual']:>9.1e}{r['solve_s']:>6.2f} {r['verdict']}")
    print("mm: planned displacement per cycle, for the hop its rise; replayed: the same in")
    print("the independent replay; 5th: its 5th percentile when the robot's numbers and the")
    print("friction vary as stated; gain: percent further than the best hand-tuned gait")
    print("that asks for no more; solve: s. Robot and surfaces are invented.")


def stream_one(build: Path, address: str, gait: str, folder: Path) -> None:
    csv = folder / "setpoints.csv"
    print(f"\nstreaming {gait} for {STREAM_S} s (a preview: nothing is driven)", flush=True)
    start = time.monotonic()
    process = subprocess.run([build / "bin" / "gaitshelf", "stream", gait, "--seconds",
                              str(STREAM_S), "--rate", "1kHz", "--preview", "--csv", csv,
                              "--server", address], check=False)
    if process.returncode != 0:
        raise Trouble(f"the stream ended with {process.returncode}")
    print(f"received in {time.monotonic() - start:.1f} s, kept in {os.path.relpath(csv)}")


def draw_one(build: Path, address: str, gait: str, folder: Path) -> None:
    """Draws footfalls and legs of a gait, with the Python package that the build has made."""
    sys.path.insert(0, str(build / "python"))
    try:
        import gaitshelf
        from gaitshelf import plots
    except ImportError as error:
        print(f"no pictures: {error}; deploy/install-packages and the build bring what they need")
        return
    with gaitshelf.connect(address) as library:
        shown = library.get(gait)
    for name, draw in (("footfalls", plots.footfalls), ("legs", plots.leg_trajectories)):
        draw(shown).savefig(folder / f"{name}.png")
    print(f"drawn in {os.path.relpath(folder)}: footfalls.png, legs.png")


def say_next(server: Server, is_kept: bool, library: Path) -> None:
    print("\nwhat to try next")
    if is_kept:
        print(f"  export GAITSHELF_SERVER={server.address}")
        print(f"  kill {server.process.pid}    # stops the server, which goes on until then")
    else:
        print(f"  .build/release/bin/gaitshelfd --library {os.path.relpath(library)} &")
    print("  .build/release/bin/gaitshelf gaits")
    print(f"  .build/release/bin/gaitshelf order --robot {ROBOT} --surface duct-steel "
          "--frequency 12Hz --advance 8mm")
    print("  README.md goes on from there, also from Python.")


def run(arguments: argparse.Namespace) -> int:
    begin = time.monotonic()
    build = ROOT / arguments.build
    folder = Path(arguments.folder) if arguments.folder else ROOT / ".build" / "first-gait"
    refuse_to_share(folder)
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    with contextlib.ExitStack() as stack:
        server = Server(build, folder)
        stack.callback(server.stop)
        server.start()
        command = Command(build, server.address)
        load_demo(command)
        rows = plan_sweep(command)
        print_table(rows)
        is_good = all(r["verdict"] == "good" for r in rows)
        good = [r["gait"] for r in rows if r["verdict"] == "good"]
        if good:
            # The second one is at 12 Hz: slow enough to follow by eye, fast enough to loop.
            shown = good[min(1, len(good) - 1)]
            stream_one(build, server.address, shown, folder)
            draw_one(build, server.address, shown, folder)
        total_s = sum(r["solve_s"] or 0.0 for r in rows)
        wall_s = time.monotonic() - begin
        count = sum(r["verdict"] == "good" for r in rows)
        print(f"\n{count} of {len(rows)} gaits good; {total_s:.1f} s of solving, "
              f"{wall_s:.1f} s in all without the build")
        if arguments.summary:
            summary = {"robot": ROBOT, "is_invented_data": True, "gaits": rows,
                       "total_solve_s": total_s, "wall_s": round(wall_s, 3)}
            write_whole(Path(arguments.summary), json.dumps(summary, indent=2) + "\n")
        if arguments.keep_running:
            stack.pop_all()
        say_next(server, arguments.keep_running, folder / "library.db")
    return 0 if is_good else 1


def write_whole(path: Path, text: str) -> None:
    part = path.with_name(path.name + ".part")
    try:
        part.write_text(text, encoding="utf-8")
        part.replace(path)
    except OSError as error:
        raise Trouble(f"{path}: cannot be written: {error.strerror}") from error


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--build", required=True, help="folder of the build")
    parser.add_argument("--folder", help="for library and log; default .build/first-gait")
    parser.add_argument("--summary")
    parser.add_argument("--keep-running", action="store_true")
    arguments = parser.parse_args()
    # SIGTERM unwinds like Ctrl-C, so that the server is stopped either way.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        return run(arguments)
    except Trouble as trouble:
        print(f"deploy/first-gait: {trouble}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\ndeploy/first-gait: interrupted; the server is stopped", file=sys.stderr)
        return 130


if __name__ == "__main__":
    sys.exit(main())
