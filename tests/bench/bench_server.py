"""A server of the release build for benches that are written in Python, and the package gaitshelf of that build."""
from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from machine import ROOT, Trouble

BUILD = ROOT / ".build" / "release"
DEMO = ROOT / "deploy" / "demo"
# Before a bench imports gaitshelf.
sys.path.insert(0, str(BUILD / "python"))


class Server:
    """gaitshelfd with one worker at a time, and library and socket in a folder."""

    def __init__(self, folder: Path, *flags: str):
        self.address = f"unix:{folder}/g.sock"
        with open(folder / "log", "ab") as log:
            self.process = subprocess.Popen(
                [BUILD / "bin" / "gaitshelfd", "--library", folder / "library.db", "--listen", self.address,
                 "--workers", "1", *flags], stdout=subprocess.PIPE, stderr=log)
        if b"is ready" not in self.process.stdout.readline():
            raise Trouble(f"the server did not start; its log ends with:\n{(folder / 'log').read_text()[-2000:]}")

    def __enter__(self) -> "Server":
        return self

    def __exit__(self, *_) -> None:
        self.process.terminate()
        if self.process.wait(60) != 0:
            raise Trouble(f"the server ended with {self.process.returncode}")

    def memory_mb(self, key: str) -> float:
        """Returns what the system says of its memory: VmRSS is what it holds, VmHWM the most that it has held."""
        status = Path(f"/proc/{self.process.pid}/status").read_text(encoding="ascii")
        return int(status.split(key + ":")[1].split()[0]) / 1024
