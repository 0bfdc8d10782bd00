"""A whole product in a temporary folder: server, workers and library, as a user has them.

The server listens on a Unix socket in that folder; every process is stopped by its id. The test's command line is
BIN_FOLDER SOURCE_FOLDER.
"""
import json
import os
import re
import subprocess
import sys
import tempfile
import time
import unittest
from pathlib import Path

BIN = Path(sys.argv[1])
SOURCE = Path(sys.argv[2])
# What a verb that solves may take, replays by the hundred among them; sanitizers have theirs.
SOLVE_S = 400 * int(os.environ.get("GAITSHELF_TIMEOUT_FACTOR", "1"))
TWELVE_HERTZ = ["--robot", "weevil", "--surface", "duct-steel", "--frequency", "12Hz"]


def readme_blocks(heading, language):
    """Returns the code blocks of one section of README.md."""
    text = (SOURCE / "README.md").read_text(encoding="utf-8")
    section = re.search(rf"^## {heading}$(.*?)(?=^## |\Z)", text, re.MULTILINE | re.DOTALL)[1]
    return re.findall(rf"^```{language}\n(.*?)^```", section, re.MULTILINE | re.DOTALL)


class House:
    """The server with its library and socket in a folder of its own."""

    def __init__(self):
        self.folder = tempfile.TemporaryDirectory(prefix="gaitshelf-e2e-")
        self.path = Path(self.folder.name)
        self.address = f"unix:{self.path / 'g.sock'}"
        self.server = None

    def start(self):
        self.log = open(self.path / "log", "ab")
        self.server = subprocess.Popen(
            [BIN / "gaitshelfd", "--library", self.path / "library.db", "--listen", self.address,
             "--backups", self.path],
            stdout=subprocess.PIPE, stderr=self.log)
        line = self.server.stdout.readline()
        assert b"is ready" in line, (self.path / "log").read_text()

    def kill(self):
        self.server.kill()
        self.reap()

    def reap(self):
        code = self.server.wait(60)
        self.server.stdout.close()
        self.log.close()
        self.server = None
        return code

    def stop(self):
        code = 0
        if self.server is not None:
            self.server.terminate()
            code = self.reap()
        self.folder.cleanup()
        return code

    def environment(self):
        return dict(os.environ, GAITSHELF_SERVER=self.address)

    def start_command(self, *words, **options):
        return subprocess.Popen([BIN / "gaitshelf", *words], env=self.environment(), cwd=SOURCE,
                                stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **options)

    def command(self, *words):
        """Returns exit code, standard output and standard error of a command."""
        process = self.start_command(*words, stdin=subprocess.DEVNULL)
        out, err = process.communicate(timeout=SOLVE_S)
        return process.returncode, out, err

    def workers(self, job=None):
        """Returns the process ids of the server's children, or of those that work on one job."""
        pids = []
        for file in Path(f"/proc/{self.server.pid}/task").glob("*/children"):
            for pid in file.read_text().split():
                try:
                    words = Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")
                except OSError:  # it has ended meanwhile
                    continue
                if job is None or job.encode() in words:
                    pids.append(int(pid))
        return pids

    def start_order(self, advance):
        """Starts an order and returns its process and its job, once that is being solved."""
        process = self.start_command("order", *TWELVE_HERTZ, "--advance", advance)
        job = re.search(r"job (\S+)", process.stderr.readline())[1]

        def is_solving():
            jobs = json.loads(self.command("jobs", "--json")[1])["jobs"]
            found = next(j for j in jobs if j["name"] == job)
            progress = found.get("progress") or {}
            return progress.get("round", 0) >= 2 or found["state"] != "JOB_STATE_RUNNING" and progress

        wait_until(is_solving)
        return process, job


def wait_until(condition, seconds=60):
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        value = condition()
        if value:
            return value
        time.sleep(0.02)
    raise AssertionError("waited in vain")


class HouseTest(unittest.TestCase):
    """Tests that share one house."""

    @classmethod
    def setUpClass(cls):
        cls.house = House()
        cls.house.start()
        cls.addClassCleanup(cls.leave)

    @classmethod
    def leave(cls):
        code = cls.house.stop()
        assert code == 0, f"the server ended with {code}"

    @classmethod
    def ask(cls, *words):
        """Returns what a command says that must succeed."""
        code, out, err = cls.house.command(*words)
        assert code == 0, err
        return out
