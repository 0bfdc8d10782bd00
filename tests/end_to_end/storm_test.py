"""Kills servers, workers and databases at random moments, 200 times, while clients work.

Everything that a client was told is stored must be there afterwards: versions of surfaces, trials with
their samples, gaits byte by byte, jobs; every job must come to its end, and the library must be whole.

Usage: storm_test.py BIN_FOLDER SOURCE_FOLDER. Needs PYTHONPATH with the package gaitshelf. Processes
are killed by their id. GAITSHELF_STORM_SEED repeats a storm, as far as the machine lets it.
"""
import os
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
import unittest
from pathlib import Path

import numpy as np

import gaitshelf
from gaitshelf.v1 import gait_pb2, job_pb2, surface_pb2, trial_pb2

BIN = Path(sys.argv[1])
SOURCE = Path(sys.argv[2])
SEED = int(os.environ.get("GAITSHELF_STORM_SEED", time.time_ns() % 1_000_000))
FILE_KILLS = 160
DATABASE_KILLS = 40
# Of one job: the fifth crash of its worker on its own ends a job, as it should.
MOST_CRASHES = 3
ENDED = (job_pb2.JOB_STATE_DONE, job_pb2.JOB_STATE_FAILED, job_pb2.JOB_STATE_CANCELLED)


class Server:
    def __init__(self, folder, library):
        self.folder = folder
        self.library = library
        self.address = f"unix:{folder}/g.sock"
        self.process = None

    def start(self):
        with open(self.folder / "log", "ab") as log:
            self.process = subprocess.Popen(
                [BIN / "gaitshelfd", "--library", self.library, "--listen", self.address,
                 "--workers", "1", "--backups", self.folder], stdout=log, stderr=log)

    def revive(self):
        """Starts it again when it has given up, as systemd would: a server whose database is away for
        longer than it waits for it does not start."""
        if self.process.poll() is not None:
            self.start()

    def kill(self):
        self.process.kill()
        self.process.wait()

    def stop(self):
        self.process.terminate()
        return self.process.wait(120)

    def workers(self):
        found = []
        for task in Path(f"/proc/{self.process.pid}/task").glob("*/children"):
            try:
                found += [int(pid) for pid in task.read_text().split()]
            except OSError:
                pass
        return found

    def log(self):
        return (self.folder / "log").read_text()[-5000:]


class Work(threading.Thread):
    """Stores and orders all the time, and remembers what it was told is stored."""

    def __init__(self, address, seed):
        super().__init__()
        self.address = address
        self.random = random.Random(seed)
        self.stop = threading.Event()
        self.surfaces = {}  # friction by digest
        self.trials = {}  # angles by name
        self.jobs = {}  # by name
        self.gaits = {}  # bytes by name
        self.faults = []

    def run(self):
        count = 0
        while not self.stop.is_set():
            count += 1
            try:
                with gaitshelf.connect(self.address) as client:
                    for _ in range(20):
                        if self.stop.is_set():
                            return
                        self.step(client, count)
                        count += 1
            except gaitshelf.GaitshelfError as error:
                # What a client sees of a kill. Anything else is a fault.
                if error.code not in ("UNAVAILABLE", "CANCELLED", "DEADLINE_EXCEEDED"):
                    self.faults.append(f"{error.code}: {error}")
                time.sleep(0.02)

    def step(self, client, count):
        kind = self.random.randrange(4)
        if kind == 0:
            friction = 0.2 + 1e-6 * self.random.randrange(500_000)
            stored = client.put_surface(surface_pb2.Surface(
                name="storm", friction_coefficient=friction,
                friction_method=surface_pb2.FRICTION_METHOD_INVENTED))
            self.surfaces[stored.digest] = friction
        elif kind == 1:
            angles = [self.random.uniform(10.0, 40.0) for _ in range(30)]
            stored = client.put_trial(
                trial_pb2.Trial(kind=trial_pb2.TRIAL_KIND_TILT, surface="liner-felt",
                                is_invented=True, title=f"storm {count}"),
                [gaitshelf.TrialLog("log", "bench", {"tilt [deg]": angles})])
            self.trials[stored.name] = angles
        elif kind == 2 and len(self.jobs) < 12:
            frequency_hz = 12.0 + 0.001 * self.random.randrange(4000)
            outcome = client.submit(gaitshelf.Order("weevil-lumped", "liner-felt", frequency_hz, 0.008))
            if isinstance(outcome, job_pb2.Job):
                self.jobs[outcome.name] = frequency_hz
        else:
            for summary in client.list(only_good=True)[:3]:
                data = client.get(summary.name).message.SerializeToString(deterministic=True)
                if self.gaits.setdefault(summary.name, data) != data:
                    self.faults.append(f"gait {summary.name} has changed")


class StormTest(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="gaitshelf-storm-")
        self.addCleanup(folder.cleanup)
        self.path = Path(folder.name)
        self.path.chmod(0o755)  # for the user postgres
        self.random = random.Random(SEED)
        print(f"GAITSHELF_STORM_SEED={SEED}", flush=True)

    def begin(self, library):
        self.server = Server(self.path, library)
        self.server.start()
        self.addCleanup(lambda: self.server.process.poll() is None and self.server.kill())
        self.patiently(lambda client: client.put_robot(
            SOURCE / "deploy/demo/weevil-lumped.robot.textproto"))
        self.patiently(lambda client: client.put_surface(
            SOURCE / "deploy/demo/liner-felt.surface.textproto"))
        self.work = Work(self.server.address, SEED)
        self.work.start()

    def patiently(self, ask, wait_s=180.0):
        """Asks until the server answers."""
        end = time.monotonic() + wait_s
        while True:
            try:
                with gaitshelf.connect(self.server.address) as client:
                    return ask(client)
            except gaitshelf.Unreachable:
                if time.monotonic() > end:
                    self.fail(self.server.log())
                self.server.revive()
                time.sleep(0.05)

    def kill_server(self):
        self.server.kill()
        self.server.start()

    def kill_worker(self):
        """Kills a worker, if there is one whose job bears it; returns whether there was."""
        for worker in self.server.workers():
            try:
                words = Path(f"/proc/{worker}/cmdline").read_bytes().decode().split("\0")
                job = words[words.index("--job") + 1]
                if self.crashes.get(job, 0) < MOST_CRASHES:
                    self.crashes[job] = self.crashes.get(job, 0) + 1
                    os.kill(worker, signal.SIGKILL)
                    return True
            except (OSError, ValueError, IndexError):
                pass
        return False

    def end(self):
        self.work.stop.set()
        self.work.join(120)
        self.assertFalse(self.work.is_alive())
        self.assertEqual(self.work.faults, [])
        for job in self.work.jobs:
            self.patiently(lambda client, job=job: self.await_end(client, job))
        self.patiently(self.check)
        self.assertEqual(self.server.stop(), 0, self.server.log())

    def await_end(self, client, job):
        try:
            ended = client.watch(job)
        except gaitshelf.JobFailed as failed:
            ended = failed.job
        self.assertEqual(ended.state, job_pb2.JOB_STATE_DONE, ended)
        self.work.gaits.setdefault(
            ended.gait, client.get(ended.gait).message.SerializeToString(deterministic=True))

    def check(self, client):
        work = self.work
        print(f"{len(work.surfaces)} versions, {len(work.trials)} trials, {len(work.jobs)} jobs, "
              f"{len(work.gaits)} gaits", flush=True)
        for kind in (work.surfaces, work.trials, work.jobs, work.gaits):
            self.assertGreater(len(kind), 0)
        for digest, friction in work.surfaces.items():
            gait = gait_pb2.Gait(surface="storm", surface_digest=digest)
            self.assertEqual(client.surface_of(gaitshelf.Gait(gait)).friction_coefficient, friction)
        for name, angles in work.trials.items():
            kept = client.trial_logs(name)[0].columns["tilt [deg]"]
            np.testing.assert_array_equal(kept, angles)
        for name, data in work.gaits.items():
            self.assertEqual(client.get(name).message.SerializeToString(deterministic=True), data)

    def test_a_library_in_a_file_outlives_its_servers_and_workers(self):
        self.crashes = {}
        self.begin(self.path / "library.db")
        kills = {"server": 0, "worker": 0}
        while sum(kills.values()) < FILE_KILLS:
            time.sleep(self.random.uniform(0.0, 0.6))
            if self.random.random() < 0.3 and self.kill_worker():
                kills["worker"] += 1
            else:
                self.kill_server()
                kills["server"] += 1
        print(kills, flush=True)
        self.end()
        # The backup reads every gait and every trial against its sum.
        self.server.start()
        self.patiently(lambda client: client.list())
        done = subprocess.run([BIN / "gaitshelf", "backup", "--server", self.server.address],
                              stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
                              check=False)
        self.assertEqual(done.returncode, 0, done.stdout)

    def cluster(self, *words):
        done = subprocess.run([SOURCE / "deploy" / "postgres" / "private-cluster", *words],
                              stdout=subprocess.PIPE, text=True, check=True)
        return done.stdout.strip()

    def test_a_library_in_a_database_outlives_the_database_and_the_server(self):
        self.crashes = {}
        folder = self.path / "cluster"
        address = self.cluster("start", folder)
        self.addCleanup(lambda: self.cluster("stop", folder, "immediate"))
        self.begin(address)
        kills = {"database": 0, "server": 0}
        while sum(kills.values()) < DATABASE_KILLS:
            time.sleep(self.random.uniform(0.0, 0.6))
            if self.random.random() < 0.5:
                os.kill(int((folder / "data/postmaster.pid").read_text().split()[0]), signal.SIGKILL)
                self.cluster("start", folder)
                kills["database"] += 1
            else:
                self.kill_server()
                kills["server"] += 1
        print(kills, flush=True)
        self.end()


if __name__ == "__main__":
    unittest.main(argv=["storm_test"], verbosity=2)
