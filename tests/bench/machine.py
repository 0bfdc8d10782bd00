"""What a measurement is measured on, and how its report gets into a file."""
from __future__ import annotations

import json
import os
import re
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


class Trouble(Exception):
    """Something that ends a run; its text is for a person."""


def describe() -> dict:
    """Returns processor, cores that this process may use, and memory, GB."""
    name = re.search(r"^model name\s*: (.*)$", Path("/proc/cpuinfo").read_text(encoding="utf-8"), re.MULTILINE)
    memory_kb = re.search(r"^MemTotal:\s*(\d+)", Path("/proc/meminfo").read_text(encoding="ascii"), re.MULTILINE)
    return {"processor": name[1] if name else "unknown", "cores": len(os.sched_getaffinity(0)),
            "memory_gb": round(int(memory_kb[1]) * 1024e-9, 1)}


def commit() -> tuple[str, bool]:
    """Returns the commit of the checkout, and whether a file that it tracks is changed."""
    def git(*words: str) -> str:
        return subprocess.run(["git", "-C", ROOT, *words], capture_output=True, text=True, check=True).stdout.strip()

    try:
        return git("rev-parse", "HEAD"), git("status", "--porcelain", "--untracked-files=no") != ""
    except (OSError, subprocess.CalledProcessError):
        return "unknown", False


def load() -> list[float]:
    """Returns how many processes wanted a core in the last 1, 5 and 15 minutes."""
    return [round(value, 2) for value in os.getloadavg()]


def write_whole(path: Path, text: str) -> None:
    """Writes a file so that it is there whole or not at all; raises Trouble."""
    part = path.with_name(path.name + ".part")
    try:
        part.write_text(text, encoding="utf-8")
        part.replace(path)
    except OSError as error:
        raise Trouble(f"{path}: cannot be written: {error.strerror}") from error


def write_json(path: Path, report: dict) -> None:
    write_whole(path, json.dumps(report, indent=1) + "\n")
