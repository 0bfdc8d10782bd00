"""Runs one bench as a process: its progress on the terminal, its output in a log, its time within a limit."""
from __future__ import annotations

import json
import os
import resource
import shlex
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

# Between two looks at the process.
LOOK_S = 0.2
# Between two lines of progress where no terminal shows the present one.
LINE_S = 30.0
# For a bench that is told to end to stop its servers.
GRACE_S = 20.0
LOG_LINES = 15


class Interrupts:
    """Notes Ctrl-C and SIGTERM while it is entered, so that neither breaks off what is being done."""

    def __init__(self):
        self.has_come = False

    def note(self, *_) -> None:
        self.has_come = True

    def __enter__(self) -> "Interrupts":
        self.before = {number: signal.signal(number, self.note) for number in (signal.SIGINT, signal.SIGTERM)}
        return self

    def __exit__(self, *_) -> None:
        for number, handler in self.before.items():
            signal.signal(number, handler)


class Progress:
    """A line that is written over on a terminal; elsewhere a line now and then."""

    def __init__(self, stream):
        self.stream = stream
        self.is_terminal = stream.isatty()
        self.last_s = time.monotonic()

    def say(self, text: str) -> None:
        self.stream.write(f"\r\033[K{text}\n" if self.is_terminal else f"{text}\n")
        self.stream.flush()
        self.last_s = time.monotonic()

    def tell(self, text: str) -> None:
        if self.is_terminal:
            width = os.get_terminal_size(self.stream.fileno()).columns
            self.stream.write(f"\r\033[K{text[:width - 1]}")
            self.stream.flush()
        elif time.monotonic() - self.last_s > LINE_S:
            self.say(text)


@dataclass
class Task:
    """What is to be run, and where its files go."""

    name: str
    place: str  # "[3/15]"
    words: list[str]
    limit_s: float
    root: Path
    folder: Path
    interrupts: Interrupts = field(default_factory=Interrupts)
    show: Progress = field(default_factory=lambda: Progress(sys.stderr))

    @property
    def log(self) -> Path:
        return self.folder / f"{self.name}.log"

    @property
    def json(self) -> Path:
        return self.folder / f"{self.name}.json"


def last_lines(log: Path, count: int) -> list[str]:
    """Returns the last lines of a log that are not empty."""
    with log.open("rb") as file:
        file.seek(max(0, log.stat().st_size - 4096))
        lines = [line.strip() for line in file.read().decode(errors="replace").splitlines()]
    return [line for line in lines if line][-count:]


def processor_s() -> float:
    """Returns the processor time of all processes that have ended and were waited for."""
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return usage.ru_utime + usage.ru_stime


def is_alive(group: int) -> bool:
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True


def end(process: subprocess.Popen) -> None:
    """Ends a bench and the servers that it has started: they share a group of processes."""
    if process.poll() is None or is_alive(process.pid):
        os.killpg(process.pid, signal.SIGTERM)
    until_s = time.monotonic() + GRACE_S
    # Polling takes note of the bench's own end, without which the group would seem alive.
    while process.poll() is None or is_alive(process.pid):
        if time.monotonic() > until_s:
            os.killpg(process.pid, signal.SIGKILL)
            break
        time.sleep(LOOK_S)
    process.wait()


def follow(task: Task, process: subprocess.Popen) -> str:
    """Waits for the end of a bench, or its limit; returns what became of it, empty when it is to be looked at."""
    start = time.monotonic()
    while process.poll() is None:
        if task.interrupts.has_come:
            return "was interrupted"
        passed_s = time.monotonic() - start
        if passed_s > task.limit_s:
            return f"met its limit of {task.limit_s:g} s"
        line = "".join(last_lines(task.log, 1))
        task.show.tell(f"{task.place} {task.name}: {passed_s:.0f} s of at most {task.limit_s:g} s  {line}")
        time.sleep(LOOK_S)
    return ""


def read_result(task: Task, exit_code: int) -> tuple[dict | None, str]:
    """Returns the bench's own report, and what is wrong with it or the bench."""
    try:
        result = json.loads(task.json.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        return None, f"ended with {exit_code}" if exit_code else f"wrote no report: {error}"
    return result, f"ended with {exit_code}" if exit_code else ""


def run_process(task: Task, words: list[str]) -> tuple[int, str]:
    """Returns a bench's exit code, and why it was ended; empty when it ended by itself. Raises OSError."""
    # What a bench that is ended leaves behind goes with this folder. A session of its own keeps Ctrl-C from it: it is
    # ended in order.
    with tempfile.TemporaryDirectory(prefix="gaitshelf-bench-") as scratch, task.log.open("wb") as log:
        process = subprocess.Popen(words, cwd=task.root, stdin=subprocess.DEVNULL, stdout=log, stderr=log,
                                   start_new_session=True, env=dict(os.environ, TMPDIR=scratch))
        try:
            problem = follow(task, process)
        finally:
            end(process)
    return process.returncode, problem


def run(task: Task) -> dict:
    """Runs a bench and returns its entry in the report. `problem` is empty when all went well."""
    words = [*task.words, "--json", str(task.json.relative_to(task.root))]
    entry = {"name": task.name, "command": shlex.join(words), "limit_s": task.limit_s, "exit_code": None}
    task.json.unlink(missing_ok=True)
    task.show.say(f"{task.place} {task.name}: {shlex.join(task.words)}")
    start, start_processor_s = time.monotonic(), processor_s()
    try:
        entry["exit_code"], problem = run_process(task, words)
    except OSError as error:
        problem = f"did not start: {error.strerror}"
    entry.update(seconds=round(time.monotonic() - start, 2), processor_s=round(processor_s() - start_processor_s, 2),
                 problem=problem, result=None)
    if not problem:
        entry["result"], entry["problem"] = read_result(task, entry["exit_code"])
    if entry["problem"]:
        entry["output_end"] = last_lines(task.log, LOG_LINES)
    task.show.say(f"{task.place} {task.name}: {entry['problem'] or 'done'} after {entry['seconds']:.1f} s")
    return entry
