"""The programs that a test of what goes wrong runs: the server, and the database of a group's library.

Every process is ended by its id. The test's command line is BIN_FOLDER SOURCE_FOLDER.
"""
import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import gaitshelf

BIN = Path(sys.argv[1]).resolve()
SOURCE = Path(sys.argv[2]).resolve()


def make_folder(case):
    """Returns a folder for a test case, which the user postgres may enter too."""
    folder = tempfile.TemporaryDirectory(prefix="gaitshelf-e2e-")
    case.addCleanup(folder.cleanup)
    path = Path(folder.name)
    path.chmod(0o755)
    return path


def await_true(is_true, wait_s=60.0):
    """Asks until the answer is true, and returns it; after the wait whatever it is."""
    end = time.monotonic() + wait_s
    while True:
        answer = is_true()
        if answer or time.monotonic() > end:
            return answer
        time.sleep(0.05)


class Server:
    """A gaitshelfd with socket and log in a folder."""

    def __init__(self, folder, library, *flags, environment=None):
        self.folder = folder
        self.library = library
        self.flags = flags
        self.environment = environment
        self.address = f"unix:{folder}/g.sock"
        self.process = None

    def start(self):
        with open(self.folder / "log", "ab") as log:
            self.process = subprocess.Popen(
                [BIN / "gaitshelfd", "--library", self.library, "--listen", self.address, *self.flags],
                stdout=log, stderr=log, env=self.environment)

    def is_up(self):
        return self.process is not None and self.process.poll() is None

    def answers(self):
        try:
            with gaitshelf.connect(self.address) as client:
                client.list()
            return True
        except gaitshelf.Unreachable:
            return False

    def kill(self):
        self.process.kill()
        self.process.wait()

    def stop(self, wait_s=120):
        """Returns the exit status."""
        self.process.terminate()
        return self.process.wait(wait_s)

    def workers(self):
        found = []
        for task in Path(f"/proc/{self.process.pid}/task").glob("*/children"):
            try:
                found += [int(pid) for pid in task.read_text().split()]
            except OSError:  # the thread has ended meanwhile
                pass
        return found

    def log(self):
        return (self.folder / "log").read_text()

    def start_command(self, *words):
        """Starts the command gaitshelf."""
        return subprocess.Popen([BIN / "gaitshelf", *words, "--server", self.address], text=True,
                                stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                                stderr=subprocess.PIPE)

    def command(self, *words, wait_s=600):
        """Returns exit status, standard output and standard error of the command gaitshelf."""
        process = self.start_command(*words)
        out, err = process.communicate(timeout=wait_s)
        return process.returncode, out, err


class Database:
    """A PostgreSQL of its own in a folder."""

    def __init__(self, folder, environment=None):
        self.folder = folder
        self.environment = environment
        self.address = f"postgresql://gaitshelf@/gaitshelf?host={folder}/socket"

    def run(self, *words):
        subprocess.run([SOURCE / "deploy/postgres/private-cluster", words[0], self.folder, *words[1:]],
                       stdout=subprocess.PIPE, check=True, env=self.environment)

    def start(self):
        self.run("start")

    def stop(self, mode="fast"):
        self.run("stop", mode)

    def log_megabyte(self):
        """Writes a megabyte into the log of changes, which has some room made in advance."""
        subprocess.run(["psql", self.address, "-c",
                        "SELECT pg_logical_emit_message(true, 'room', repeat('x', 1000000))"],
                       stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)

    def process(self):
        """Returns the process id, also of one that has ended by itself; 0 after a stop."""
        try:
            return int((self.folder / "data/postmaster.pid").read_text().split()[0])
        except (OSError, IndexError):
            return 0

    def is_up(self):
        return self.process() > 0 and Path(f"/proc/{self.process()}").exists()

    def kill(self):
        os.kill(self.process(), signal.SIGKILL)
