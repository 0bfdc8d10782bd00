"""Kills servers, workers, databases and Slurm's daemons at random moments, 200 times, while clients work.

Everything that a client was told is stored must be there afterwards: versions of surfaces, trials with
their samples, gaits byte by byte, jobs; every job must come to a good gait, and to one only; and the
library must be whole.

Usage: storm_test.py BIN_FOLDER SOURCE_FOLDER [StormTest.NAME]. Needs PYTHONPATH with the package
gaitshelf. Processes are killed by their id. GAITSHELF_STORM_SEED repeats a storm, as far as the machine
lets it.
"""
import collections
import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
import unittest
from pathlib import Path

import numpy as np

from programs import BIN, SOURCE, Database, Server, make_folder

import gaitshelf
from gaitshelf.v1 import audit_pb2, gait_pb2, job_pb2, surface_pb2, trial_pb2

SEED = int(os.environ.get("GAITSHELF_STORM_SEED", time.time_ns() % 1_000_000))
FILE_KILLS = 110
DATABASE_KILLS = 30
CLUSTER_KILLS = 60
# Of one job: the fifth crash of its worker on its own ends a job, as it should.
MOST_CRASHES = 3


class Work(threading.Thread):
    """Stores and orders all the time, and remembers what it was told is stored."""

    def __init__(self, address, seed):
        super().__init__(daemon=True)
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


class Slurm:
    """A cluster of its own in a folder."""

    def __init__(self, folder):
        self.folder = folder

    def run(self, command):
        subprocess.run([SOURCE / "deploy/slurm/private-cluster", command, self.folder],
                       stdout=subprocess.PIPE, check=True)

    def kill(self, daemon):
        """Kills a daemon and starts another one in its place; what a node runs lives on."""
        try:
            process = (self.folder / f"run/{daemon}.pid").read_text().strip()
            # The file is old when the last one has not come up yet.
            if f"SLURM_CONF={self.folder}/" not in Path(f"/proc/{process}/environ").read_text():
                return False
            os.kill(int(process), signal.SIGKILL)
        except OSError:
            return False
        finally:
            self.run("mend")
        return True


def workers_of(library):
    """Returns the workers of a library on this machine, whoever has started them."""
    found = []
    for path in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            words = path.read_bytes().decode(errors="replace").split("\0")
        except OSError:  # it has ended meanwhile
            continue
        if words[0].endswith("gaitshelf-worker") and library in words:
            found.append(int(path.parent.name))
    return found


class StormTest(unittest.TestCase):
    def setUp(self):
        self.path = make_folder(self)
        self.random = random.Random(SEED)
        print(f"GAITSHELF_STORM_SEED={SEED}", flush=True)

    def begin(self, library, *flags, environment=None):
        self.crashes = {}
        self.kills = collections.Counter()
        self.server = Server(self.path, library, "--backups", self.path, *flags,
                             environment=environment)
        self.server.start()
        self.addCleanup(lambda: self.server.is_up() and self.server.kill())
        self.patiently(lambda client: client.put_robot(
            SOURCE / "deploy/demo/weevil-lumped.robot.textproto"))
        self.patiently(lambda client: client.put_surface(
            SOURCE / "deploy/demo/liner-felt.surface.textproto"))
        self.work = Work(self.server.address, SEED)
        self.addCleanup(self.work.stop.set)
        self.work.start()

    def patiently(self, ask, wait_s=180.0):
        """Asks until the server answers."""
        end = time.monotonic() + wait_s
        while True:
            try:
                with gaitshelf.connect(self.server.address) as client:
                    return ask(client)
            except gaitshelf.Unreachable:
                if time.monotonic() > end or not self.server.is_up():
                    self.fail(self.server.log()[-5000:])
                time.sleep(0.05)

    def storm(self, count, kinds):
        """Kills so many times, what comes by its weight."""
        while self.kills.total() < count:
            time.sleep(self.random.uniform(0.0, 0.6))
            kind, = self.random.choices(list(kinds), [weight for weight, _ in kinds.values()])
            _, kill = kinds[kind]
            if kill():
                self.kills[kind] += 1
        print(dict(self.kills), flush=True)

    def kill_server(self):
        self.server.kill()
        self.server.start()
        return True

    def kill_worker(self, workers):
        """Kills one of the workers whose job bears it; returns whether there was one."""
        for worker in workers:
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

    def kill_database(self, database):
        database.kill()
        database.start()
        return True

    def end(self):
        self.work.stop.set()
        self.work.join(120)
        self.assertFalse(self.work.is_alive())
        self.assertEqual(self.work.faults, [])
        # Those too whose acceptance nobody heard of.
        for job in self.list_jobs():
            self.patiently(lambda client, job=job: self.await_end(client, job["name"]))
        self.check_jobs()
        self.patiently(self.check)
        self.assertEqual(self.server.stop(), 0, self.server.log()[-5000:])
        done = subprocess.run([BIN / "check_library", self.server.library], text=True, check=False,
                              stdout=subprocess.PIPE)
        self.assertEqual(done.returncode, 0, done.stdout)

    def list_jobs(self):
        """Asks for the jobs that the library has, as the command lists them."""
        self.patiently(lambda client: client.list())
        code, out, err = self.server.command("jobs", "--json")
        self.assertEqual(code, 0, err)
        return json.loads(out)["jobs"]

    def await_end(self, client, job):
        try:
            ended = client.watch(job)
        except gaitshelf.JobFailed as failed:
            ended = failed.job
        self.assertEqual(ended.state, job_pb2.JOB_STATE_DONE, ended)
        self.work.gaits.setdefault(
            ended.gait, client.get(ended.gait).message.SerializeToString(deterministic=True))

    def check_jobs(self):
        """Each order has one job and each job one good gait, of an attempt that it had."""
        jobs = self.list_jobs()
        self.assertLessEqual(set(self.work.jobs), {job["name"] for job in jobs})
        orders = collections.Counter(json.dumps(job["order"], sort_keys=True) for job in jobs)
        self.assertEqual(set(orders.values()), {1}, orders)
        kept = collections.defaultdict(list)
        for summary in self.patiently(lambda client: client.list()):
            gait = self.patiently(lambda client, name=summary.name: client.get(name)).message
            kept[gait.provenance.job].append(gait)
        self.assertEqual(set(kept), {job["name"] for job in jobs})
        for job in jobs:
            gaits = {gait.name: gait for gait in kept[job["name"]]}
            self.assertEqual(gaits[job["gait"]].audit.verdict, audit_pb2.VERDICT_GOOD)
            # An attempt that stored its gait and was killed before it could say so leaves it behind.
            attempts = [gait.provenance.attempt for gait in gaits.values()]
            self.assertEqual(len(attempts), len(set(attempts)), job)
            self.assertLessEqual(max(attempts), job["attempt"], job)

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
        self.begin(self.path / "library.db", "--workers", "1")
        self.storm(FILE_KILLS, {
            "worker": (0.3, lambda: self.kill_worker(self.server.workers())),
            "server": (0.7, self.kill_server)})
        self.end()

    def test_a_library_in_a_database_outlives_the_database_and_the_server(self):
        database = Database(self.path / "cluster")
        database.start()
        self.addCleanup(lambda: database.stop("immediate"))
        self.begin(database.address, "--workers", "1")
        self.storm(DATABASE_KILLS, {
            "database": (0.5, lambda: self.kill_database(database)),
            "server": (0.5, self.kill_server)})
        self.end()

    def test_jobs_on_a_cluster_outlive_slurms_controller_and_nodes_and_all_else(self):
        database = Database(self.path / "cluster")
        database.start()
        self.addCleanup(lambda: database.stop("immediate"))
        slurm = Slurm(self.path / "slurm")
        slurm.run("start")
        self.addCleanup(lambda: slurm.run("stop"))
        self.begin(database.address, "--dispatch", "slurm",
                   environment=dict(os.environ, SLURM_CONF=str(slurm.folder / "slurm.conf")))
        self.storm(CLUSTER_KILLS, {
            "controller": (0.4, lambda: slurm.kill("slurmctld")),
            "node": (0.15, lambda: slurm.kill(self.random.choice(["slurmd.n1", "slurmd.n2"]))),
            "worker": (0.15, lambda: self.kill_worker(workers_of(database.address))),
            "database": (0.15, lambda: self.kill_database(database)),
            "server": (0.15, self.kill_server)})
        self.assertGreater(self.kills["controller"], 0)
        self.end()


if __name__ == "__main__":
    unittest.main(argv=["storm_test", *sys.argv[3:]], verbosity=2)
