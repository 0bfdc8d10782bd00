"""Counts the lines and functions that tests have run, room by room. Called by deploy/coverage, which says how.

A room is a folder of sources. A line in a header counts once, however many files include it, and so does a function of
which the compiler made several (templates, constructors).

Usage: line_coverage.py BUILD_FOLDER
"""
from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Iterable, Iterator

ROOT = Path(__file__).resolve().parents[1]
PARTS = ("solver", "service", "clients")
# Reports are large: so many notes are read at a time.
NOTES_A_CALL = 20


@dataclass
class FileCounts:
    """How often each line, and the function that begins at a line, was run."""

    lines: dict[int, int] = field(default_factory=dict)
    functions: dict[int, tuple[str, int]] = field(default_factory=dict)

    def add(self, report: dict) -> None:
        """Adds what one compiled file says of this source."""
        for line in report["lines"]:
            number = line["line_number"]
            self.lines[number] = self.lines.get(number, 0) + line["count"]
        for function in report["functions"]:
            start = function["start_line"]
            before = self.functions.get(start, ("", 0))[1]
            self.functions[start] = (function["demangled_name"], before + function["execution_count"])


def reports(build: Path) -> Iterator[dict]:
    """Gives gcov's report of each compiled file under a build folder; of one that never ran, with counts of 0."""
    notes = sorted(str(path) for path in build.rglob("*.gcno"))
    for first in range(0, len(notes), NOTES_A_CALL):
        command = ["gcov", "--json-format", "--stdout", *notes[first:first + NOTES_A_CALL]]
        done = subprocess.run(command, cwd=build, capture_output=True, text=True, check=True)
        for line in done.stdout.splitlines():
            if line:
                yield json.loads(line)


def count(found: Iterable[dict], root: Path) -> dict[Path, FileCounts]:
    """Returns the counts of each source of ours, by its path from the root."""
    counts: dict[Path, FileCounts] = {}
    for report in found:
        for file in report["files"]:
            path = (Path(report["current_working_directory"]) / file["file"]).resolve()
            if not path.is_relative_to(root):
                continue
            name = path.relative_to(root)
            if name.parts[0] in PARTS:
                counts.setdefault(name, FileCounts()).add(file)
    return counts


def room_rows(counts: dict[Path, FileCounts]) -> list[tuple[str, int, int]]:
    """Returns (room, lines that were run, lines) of each room, and of all."""
    rooms: dict[str, list[int]] = {}
    for path, file in counts.items():
        row = rooms.setdefault(str(path.parent), [0, 0])
        row[0] += sum(1 for times in file.lines.values() if times > 0)
        row[1] += len(file.lines)
    rows = [(room, run, lines) for room, (run, lines) in sorted(rooms.items())]
    return [*rows, ("all", sum(row[1] for row in rows), sum(row[2] for row in rows))]


def short_name(name: str) -> str:
    """Returns a demangled name without what it stands in and what it takes."""
    if "{lambda(" in name:
        return "a lambda"
    return name.replace("(anonymous namespace)::", "").split("(")[0].split("<")[0].split("::")[-1]


def never_run(counts: dict[Path, FileCounts]) -> list[str]:
    """Returns a line for each file with functions that were never run, with the lines at which they begin."""
    blank = []
    for path, file in sorted(counts.items()):
        functions = [f"{start} {short_name(name)}" for start, (name, times) in sorted(file.functions.items())
                     if times == 0]
        if functions:
            blank.append(f"{path}: {', '.join(functions)}")
    return blank


def main(words: list[str]) -> int:
    if len(words) != 1 or not Path(words[0]).is_dir():
        print("line_coverage.py: name the build folder; deploy/coverage does", file=sys.stderr)
        return 2
    counts = count(reports(Path(words[0]).resolve()), ROOT)
    if not counts:
        print(f"line_coverage.py: {words[0]} has no counts; it is built by deploy/build coverage", file=sys.stderr)
        return 2
    print(f"{'room':22} {'run':>6} {'lines':>6} {'%':>6}")
    for room, run, lines in room_rows(counts):
        print(f"{room:22} {run:6} {lines:6} {100.0 * run / max(lines, 1):6.1f}")
    print("\nnever run (line, function):")
    print("\n".join(never_run(counts)) or "none")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
