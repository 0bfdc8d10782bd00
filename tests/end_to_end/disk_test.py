"""Lets the disk of the library run full while gaits, trials and jobs are being stored.

What cannot be stored is refused in words that say where room is wanted; the server says that it is
unwell, and goes on reading. After room was made it goes on storing, without having been started
again; all that it had accepted is there, and nothing that it had refused.

A disk is a small tmpfs; where that cannot be mounted, and besides, the limit of the size of files
that the system sets for a process.

Usage: disk_test.py BIN_FOLDER SOURCE_FOLDER [DiskTest.NAME]. Needs PYTHONPATH with the package gaitshelf.
"""
import json
import random
import re
import resource
import subprocess
import sys
import unittest

import grpc
import numpy as np

from programs import BIN, SOURCE, Database, Server, await_true, make_folder

import gaitshelf
from gaitshelf.v1 import gait_pb2, job_pb2, surface_pb2, trial_pb2

LEAST_MB = 4
# Of a trial, which is what fills the disk.
ROWS = 12_000
MOST_JOBS = 3
# Refusals of each kind, so that none is a matter of luck.
REFUSALS = 3


class SmallDisk:
    """A file system of its own, of a few megabytes."""

    def __init__(self, path, size_mb):
        self.path = path
        path.mkdir()
        path.chmod(0o755)
        self.is_mounted = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", f"size={size_mb}m,mode=755", "gaitshelf-test", path],
            stderr=subprocess.DEVNULL, check=False).returncode == 0
        self.ballast = path / "ballast"

    def unmount(self):
        if self.is_mounted:
            # Whoever was killed may still hold it for a moment.
            await_true(lambda: subprocess.run(["umount", self.path], stderr=subprocess.DEVNULL,
                                              check=False).returncode == 0, 20)

    def fill(self, server):  # pylint: disable=unused-argument
        with open(self.ballast, "ab", buffering=0) as file:
            for size in (1 << 16, 1 << 10):
                try:
                    while file.write(bytes(size)) == size:
                        pass
                except OSError:
                    pass

    def make_room(self, server):  # pylint: disable=unused-argument
        self.ballast.unlink()


class SizeLimit:
    """The limit of the size of files of a running process."""

    def __init__(self, path):
        self.path = path
        path.mkdir()

    def fill(self, server):
        largest = max(file.stat().st_size for file in self.path.iterdir())
        self.set_limit(server, largest)

    def make_room(self, server):
        self.set_limit(server, resource.RLIM_INFINITY)

    @staticmethod
    def set_limit(server, size):
        for process in [server.process.pid, *server.workers()]:
            try:
                resource.prlimit(process, resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))
            except ProcessLookupError:  # it has ended meanwhile
                pass


class Stored:
    """What the server has accepted, and what it refused for want of room."""

    def __init__(self, seed):
        self.random = random.Random(seed)
        self.count = 0
        self.surfaces = {}  # friction by digest
        self.trials = {}  # angles by name
        self.jobs = []
        self.gaits = {}  # bytes by name
        self.refusals = {"surface": [], "trial": [], "order": []}
        # True after an answer was lost with the database: it may have been stored or not.
        self.has_unknown = False

    def put(self, client, kind):
        self.count += 1
        try:
            getattr(self, f"put_{kind}")(client)
        except gaitshelf.GaitshelfError as error:
            if error.code != "RESOURCE_EXHAUSTED":
                self.has_unknown = error.code == "UNAVAILABLE"
                raise
            self.refusals[kind].append(str(error))

    def put_surface(self, client):
        friction = 0.2 + 1e-4 * self.count
        stored = client.put_surface(surface_pb2.Surface(
            name="full", friction_coefficient=friction,
            friction_method=surface_pb2.FRICTION_METHOD_INVENTED))
        self.surfaces[stored.digest] = friction

    def put_trial(self, client):
        angles = [self.random.uniform(10.0, 40.0) for _ in range(ROWS)]
        stored = client.put_trial(
            trial_pb2.Trial(kind=trial_pb2.TRIAL_KIND_TILT, surface="liner-felt", is_invented=True,
                            title=f"trial {self.count}"),
            [gaitshelf.TrialLog("log", "bench", {"tilt [deg]": angles})])
        self.trials[stored.name] = angles

    def put_order(self, client):
        # One is kept for the time when the disk is full.
        if len(self.jobs) < MOST_JOBS - (not self.refusals["trial"]):
            outcome = client.submit(gaitshelf.Order(
                "weevil-lumped", "liner-felt", 14.0 + 0.01 * self.count, 0.008))
            self.jobs.append(outcome.name)

    def is_refused(self):
        kinds = ("surface", "trial") if len(self.jobs) >= MOST_JOBS else tuple(self.refusals)
        return all(len(self.refusals[kind]) >= REFUSALS for kind in kinds)

    def check(self, case, client):
        """Reads all of it back."""
        names = {trial.name for trial in client.trials()}
        if self.has_unknown:
            case.assertLessEqual(set(self.trials), names)
        else:
            case.assertEqual(names, set(self.trials))
        for name, angles in self.trials.items():
            kept = client.trial_logs(name)[0].columns["tilt [deg]"]
            np.testing.assert_array_equal(kept, angles)
        for digest, friction in self.surfaces.items():
            gait = gait_pb2.Gait(surface="full", surface_digest=digest)
            case.assertEqual(client.surface_of(gaitshelf.Gait(gait)).friction_coefficient, friction)
        for name, data in self.gaits.items():
            case.assertEqual(client.get(name).message.SerializeToString(deterministic=True), data)


def health(address, service=b""):
    """What the standard call of health says: 1 serving, 2 not serving."""
    with grpc.insecure_channel(address) as channel:
        check = channel.unary_unary("/grpc.health.v1.Health/Check",
                                    request_serializer=bytes, response_deserializer=bytes)
        request = b"" if not service else b"\x0a" + bytes([len(service)]) + service
        answer = check(request, timeout=30)
    return answer[1] if answer else 0


class DiskTest(unittest.TestCase):
    def setUp(self):
        self.path = make_folder(self)
        self.stored = Stored(1)

    def mount(self, size_mb):
        disk = SmallDisk(self.path / "small", size_mb)
        self.addCleanup(disk.unmount)
        if not disk.is_mounted:
            self.skipTest("this user or this container may not mount a tmpfs")
        return disk

    def begin(self, library, folder):
        self.server = Server(self.path, library, "--workers", "1", "--least-disk-mb", str(LEAST_MB),
                             "--backups", folder)
        self.server.start()
        self.addCleanup(lambda: self.server.is_up() and self.server.kill())
        self.assertTrue(await_true(self.server.answers), self.server.log())
        with gaitshelf.connect(self.server.address) as client:
            client.put_robot(SOURCE / "deploy/demo/weevil-lumped.robot.textproto")
            client.put_surface(SOURCE / "deploy/demo/liner-felt.surface.textproto")
            gait = client.order("weevil-lumped", "liner-felt", frequency_hz=12.0, advance_m=0.008)
            self.stored.gaits[gait.name] = gait.message.SerializeToString(deterministic=True)
            for kind in self.stored.refusals:
                self.stored.put(client, kind)
        self.assertTrue(await_true(lambda: health(self.server.address) == 1), self.server.log())

    def store_until_full(self, disk, most=2000):
        """Stores until nothing of any kind is taken any more."""
        with gaitshelf.connect(self.server.address) as client:
            while not self.stored.refusals["trial"]:
                for kind in self.stored.refusals:
                    self.stored.put(client, kind)
                if self.stored.count > 60:
                    disk.fill(self.server)
            for _ in range(most):
                if self.stored.is_refused():
                    break
                disk.fill(self.server)
                for kind in self.stored.refusals:
                    self.stored.put(client, kind)
        self.assertTrue(self.stored.is_refused(),
                        {kind: len(said) for kind, said in self.stored.refusals.items()})

    def check_refusals(self, *words):
        for said in sum(self.stored.refusals.values(), []):
            for word in ("make room", *words):
                self.assertIn(word, said)

    def check_unwell(self):
        self.assertTrue(await_true(lambda: health(self.server.address) == 2), self.server.log())
        self.assertTrue(await_true(
            lambda: health(self.server.address, b"gaitshelf.v1.JobService") == 2))
        self.assertIn("server is unwell", self.server.log())

    def check_reads(self):
        with gaitshelf.connect(self.server.address) as client:
            self.stored.check(self, client)
        self.assertTrue(self.server.is_up())

    def check_backup(self, folder):
        code, _, said = self.server.command("backup")
        self.assertEqual(code, 1)
        self.assertIn(f"the disk of {folder} has", said)
        self.assertEqual([path for path in folder.iterdir() if "library-" in path.name], [])

    def check_worker(self, library):
        """A worker that finds no room gives up without a fault of its own."""
        jobs = json.loads(self.server.command("jobs", "--json")[1])["jobs"]
        waiting = [job["name"] for job in jobs if job["state"] == "JOB_STATE_QUEUED"]
        if not waiting:
            return  # all were solved before the disk was full
        done = subprocess.run(
            [BIN / "gaitshelf-worker", "--library", library, "--job", waiting[-1],
             "--owner", "disk test"], stderr=subprocess.PIPE, text=True, check=False, timeout=60)
        self.assertEqual(done.returncode, 75, done.stderr)
        self.assertIn("make room", done.stderr)

    def check_all_is_well(self, library):
        self.assertTrue(await_true(lambda: health(self.server.address) == 1), self.server.log())
        with gaitshelf.connect(self.server.address) as client:
            for name in self.stored.jobs:
                job = client.watch(name)
                self.assertEqual(job.state, job_pb2.JOB_STATE_DONE, job)
                self.assertGreater(len(client.get(job.gait).message.SerializeToString()), 0)
            before = self.stored.count
            for kind in self.stored.refusals:
                self.stored.put(client, kind)
            self.assertEqual(self.stored.count, before + 3)
            gait = client.order("weevil-lumped", "liner-felt", frequency_hz=18.0, advance_m=0.008)
            self.stored.gaits[gait.name] = gait.message.SerializeToString(deterministic=True)
            self.stored.check(self, client)
        jobs = json.loads(self.server.command("jobs", "--json")[1])["jobs"]
        if not self.stored.has_unknown:
            self.assertEqual(len(jobs), 2 + len(self.stored.jobs))
        log = self.server.log()
        self.assertNotIn("FAILED", log)
        self.assertEqual(self.server.stop(), 0, log)
        done = subprocess.run([BIN / "check_library", library], stdout=subprocess.PIPE, text=True,
                              check=False)
        self.assertEqual(done.returncode, 0, done.stdout)
        print(f"\n{len(self.stored.trials)} trials, {len(self.stored.surfaces)} versions, "
              f"{len(self.stored.jobs)} jobs accepted; refused "
              f"{ {kind: len(said) for kind, said in self.stored.refusals.items()} }", flush=True)

    def run_a_file_full(self, disk):
        library = disk.path / "library.db"
        self.begin(library, disk.path)
        process = self.server.process.pid
        self.store_until_full(disk)
        self.check_refusals(f"the disk of {disk.path} has", "MB left")
        self.check_unwell()
        self.check_reads()
        return library, process

    def test_a_file_on_a_full_disk(self):
        disk = self.mount(24)
        library, process = self.run_a_file_full(disk)
        self.check_backup(disk.path)
        self.check_worker(library)
        disk.make_room(self.server)
        self.check_all_is_well(library)
        self.assertEqual(self.server.process.pid, process)

    def test_a_file_at_the_limit_of_its_size(self):
        disk = SizeLimit(self.path / "limited")
        library, process = self.run_a_file_full(disk)
        disk.make_room(self.server)
        self.check_all_is_well(library)
        self.assertEqual(self.server.process.pid, process)

    def test_a_server_that_is_killed_on_a_full_disk(self):
        disk = self.mount(24)
        library, _ = self.run_a_file_full(disk)
        self.server.kill()
        self.server.start()
        # It may or may not come up without room; it says what it wants.
        await_true(lambda: not self.server.is_up() or self.server.answers(), 20)
        if self.server.is_up():
            self.check_reads()
        else:
            self.assertRegex(self.server.log(), re.escape(f"the disk of {disk.path} has 0.0 MB left"))
        disk.make_room(self.server)
        if not self.server.is_up():
            self.server.start()
        self.assertTrue(await_true(self.server.answers), self.server.log())
        self.check_all_is_well(library)

    def make_database(self, has_log_elsewhere):
        """A database on a small disk, with or without its log of changes."""
        disk = self.mount(160)
        database = Database(disk.path / "cluster")
        database.start()
        self.addCleanup(lambda: database.is_up() and database.stop("immediate"))
        if has_log_elsewhere:
            database.stop()
            log = database.folder / "data/pg_wal"
            subprocess.run(["cp", "-a", log, self.path / "wal"], check=True)
            subprocess.run(["rm", "-r", log], check=True)
            log.symlink_to(self.path / "wal")
            database.start()
        return disk, database

    def test_a_database_on_a_full_disk(self):
        disk, database = self.make_database(has_log_elsewhere=True)
        self.begin(database.address, self.path)
        process = self.server.process.pid
        self.store_until_full(disk)
        self.check_refusals("No space left on device", "the database's machine")
        self.check_unwell()
        self.check_reads()
        disk.make_room(self.server)
        self.check_all_is_well(database.address)
        self.assertEqual(self.server.process.pid, process)

    def test_a_database_without_room_for_its_log_of_changes(self):
        disk, database = self.make_database(has_log_elsewhere=False)
        self.begin(database.address, self.path)
        process = self.server.process.pid
        gait = next(iter(self.stored.gaits))
        with gaitshelf.connect(self.server.address) as client:
            client.get(gait)
            with self.assertRaises(gaitshelf.GaitshelfError) as caught:
                for _ in range(2000):
                    disk.fill(self.server)
                    database.log_megabyte()
                    for kind in self.stored.refusals:
                        self.stored.put(client, kind)
        self.assertEqual(caught.exception.code, "UNAVAILABLE")
        # It has stopped itself, and does so again when it is started without room.
        self.assertTrue(await_true(lambda: not database.is_up()))
        self.check_unwell()
        self.assertIn("library is out of reach", self.server.log())
        with gaitshelf.connect(self.server.address) as client:
            self.assertEqual(client.get(gait).message.SerializeToString(deterministic=True),
                             self.stored.gaits[gait])  # from memory
        disk.make_room(self.server)
        database.start()
        self.assertTrue(await_true(lambda: "library is back" in self.server.log()))
        self.check_all_is_well(database.address)
        self.assertEqual(self.server.process.pid, process)


if __name__ == "__main__":
    unittest.main(argv=["disk_test", *sys.argv[3:]], verbosity=2)
