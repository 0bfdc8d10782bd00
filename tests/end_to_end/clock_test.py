"""Sets the clocks of server, worker and database forward and back by hours while they work.

Nothing may be lost, run twice or be taken for dead because of it, and what lasts some seconds must
last some seconds. Times that people are shown do jump, which proves that the clocks were set.

Usage: clock_test.py BIN_FOLDER SOURCE_FOLDER [ClockTest.NAME]. Needs PYTHONPATH with the package gaitshelf, and
Debian's libfaketime, which stands between a program and its wall clock.
"""
import glob
import json
import os
import re
import subprocess
import sys
import threading
import time
import unittest
from datetime import datetime
from pathlib import Path

from programs import BIN, SOURCE, Database, Server, await_true, make_folder

import gaitshelf
from gaitshelf.v1 import job_pb2

HOUR_S = 3600.0
DAY_S = 24 * HOUR_S
# What one look at a clock may come after another.
SLACK_S = 120.0
# Enough for a solve of some seconds.
MANY_KNOTS = 160


class Clock:
    """The wall clock of one program, set by a file."""

    def __init__(self, path):
        self.path = path
        self.set(0.0)

    def set(self, offset_s):
        # In one step: the program may read it at any moment.
        new = self.path.with_suffix(".new")
        new.write_text(f"{offset_s:+.0f}\n")
        new.rename(self.path)
        self.offset_s = offset_s

    def environment(self):
        library, = glob.glob("/usr/lib/*/faketime/libfaketimeMT.so.1")
        # Steady clocks and times of files stay as they are.
        return dict(os.environ, LD_PRELOAD=library, FAKETIME_TIMESTAMP_FILE=str(self.path),
                    FAKETIME_NO_CACHE="1", FAKETIME_DONT_FAKE_MONOTONIC="1", NO_FAKE_STAT="1")


def remove_leftovers():
    """Removes what libfaketime keeps in shared memory for programs that were killed."""
    for path in Path("/dev/shm").glob("*faketime_*"):
        if not Path("/proc", path.name.rsplit("_", 1)[1]).exists():
            path.unlink(missing_ok=True)


class ClockTest(unittest.TestCase):
    def setUp(self):
        self.addCleanup(remove_leftovers)
        self.path = make_folder(self)
        self.friction = 0.3
        self.clocks = {name: Clock(self.path / f"{name}.clock")
                       for name in ("server", "worker", "database")}

    def begin(self, library):
        # The worker has a clock of its own, as on another machine.
        worker = self.path / "worker"
        worker.write_text("#!/bin/sh\nunset FAKETIME_SHARED\n"
                          f"export FAKETIME_TIMESTAMP_FILE='{self.clocks['worker'].path}'\n"
                          f"exec '{BIN}/gaitshelf-worker' \"$@\"\n")
        worker.chmod(0o755)
        self.library = library
        self.server = Server(self.path, library, "--workers", "1", "--worker-program", worker,
                             environment=self.clocks["server"].environment())
        self.start()
        self.addCleanup(lambda: self.server.is_up() and self.server.kill())
        self.ask("robot", "put", str(SOURCE / "deploy/demo/weevil-lumped.robot.textproto"))
        self.ask("surface", "put", str(SOURCE / "deploy/demo/liner-felt.surface.textproto"))

    def start(self):
        self.server.start()
        self.assertTrue(await_true(self.server.answers), self.server.log())

    def ask(self, *words):
        code, out, err = self.server.command(*words)
        self.assertEqual(code, 0, err + self.server.log())
        return out

    def order(self, frequency_hz, knot_count=0):
        with gaitshelf.connect(self.server.address) as client:
            outcome = client.submit(
                gaitshelf.Order("weevil-lumped", "liner-felt", frequency_hz, 0.008),
                knot_count=knot_count)
        self.assertIsInstance(outcome, job_pb2.Job)
        return outcome.name

    def job(self, name):
        jobs = json.loads(self.ask("jobs", "--json"))["jobs"]
        return next(job for job in jobs if job["name"] == name)

    def follow(self, name):
        """Follows a job from now on; returns the thread and where it puts the end."""
        ended = []

        def watch():
            with gaitshelf.connect(self.server.address) as client:
                ended.append(client.watch(name))

        thread = threading.Thread(target=watch)
        thread.start()
        return thread, ended

    def offset_of(self, name, shown):
        """How far a time that somebody was shown lies beside the true one."""
        at = datetime.fromisoformat(shown.replace("Z", "+00:00")).timestamp()
        return at - time.time() - self.clocks[name].offset_s

    def change_surface(self):
        """Stores another version of a surface and returns when that was, as the server says."""
        self.friction += 0.001
        surface = self.path / "clock.surface.textproto"
        text = (SOURCE / "deploy/demo/liner-felt.surface.textproto").read_text()
        surface.write_text(
            text.replace("liner-felt", "clock").replace("0.45", f"{self.friction:.3f}", 1))
        self.ask("surface", "put", str(surface))
        changes = json.loads(self.ask("changes", "--last", "20", "--json"))["changes"]
        return next(change["time"] for change in changes if change["subject"] == "clock")

    def check_server_clock(self):
        # libfaketime may give a thread the old time once more while another one takes the new one.
        self.assertTrue(await_true(
            lambda: abs(self.offset_of("server", self.change_surface())) < SLACK_S, 20))

    def check_worker_clock(self, job):
        """The worker writes its progress at least twice a second."""
        if self.job(job)["state"] == "JOB_STATE_RUNNING":
            self.assertTrue(
                await_true(lambda: abs(self.offset_of("worker", self.job(job)["update_time"]))
                           < SLACK_S or self.job(job)["state"] != "JOB_STATE_RUNNING", 20),
                self.job(job))

    def check_database_clock(self):
        if not isinstance(self.library, str):
            return
        done = subprocess.run(["psql", "--no-psqlrc", "--tuples-only", "--no-align", "--command",
                               "SELECT extract(epoch FROM clock_timestamp())", self.library],
                              stdout=subprocess.PIPE, check=True, text=True)
        self.assertLess(
            abs(float(done.stdout) - time.time() - self.clocks["database"].offset_s), SLACK_S)

    def set_clocks_while_it_solves(self):
        """One attempt does the job, whoever's clock is set and whereto."""
        job = self.order(12.0, MANY_KNOTS)
        self.assertTrue(await_true(lambda: self.job(job).get("progress", {}).get("iteration", 0)))
        thread, ended = self.follow(job)
        for server_h, worker_h, database_h in [(5, 0, 0), (5, -7, 0), (5, -7, 9), (-11, -7, 9),
                                               (-11, 6, -3), (0, 0, 0)]:
            self.clocks["server"].set(server_h * HOUR_S)
            self.clocks["worker"].set(worker_h * HOUR_S)
            self.clocks["database"].set(database_h * HOUR_S)
            self.check_server_clock()
            self.check_worker_clock(job)
            self.check_database_clock()
        thread.join(300)
        self.assertEqual(len(ended), 1, self.server.log())
        self.assertEqual(ended[0].state, job_pb2.JOB_STATE_DONE)
        self.assertEqual(ended[0].attempt, 1, self.server.log())
        self.assertNotIn("no sign of life", self.server.log())
        return job, ended[0].gait

    def stream_while_the_clock_is_set(self, gait):
        seconds = 3
        stream = self.path / "stream.csv"
        begin = time.monotonic()
        process = subprocess.Popen(
            [BIN / "gaitshelf", "stream", gait, "--seconds", str(seconds), "--preview", "--csv",
             stream, "--server", self.server.address], stdin=subprocess.DEVNULL)
        for hours in (4, -6, 0):
            time.sleep(0.6)
            self.clocks["server"].set(hours * HOUR_S)
        self.assertEqual(process.wait(60), 0, self.server.log())
        elapsed_s = time.monotonic() - begin
        self.assertGreater(elapsed_s, 0.8 * seconds)
        self.assertLess(elapsed_s, seconds + 20)
        # 1 kHz without saying otherwise, and a heading.
        self.assertGreater(len(stream.read_text().splitlines()), 1000 * seconds)

    def set_clocks_while_the_server_is_away(self):
        for frequency_hz, hours in ((20.0, 8), (21.0, -8)):
            job = self.order(frequency_hz, MANY_KNOTS)
            self.assertTrue(await_true(lambda: self.job(job).get("attempt", 0)))  # pylint: disable=W0640
            self.server.kill()
            for clock in self.clocks.values():
                clock.set(hours * HOUR_S)
            self.start()
            thread, ended = self.follow(job)
            thread.join(300)
            self.assertEqual(len(ended), 1, self.server.log())
            self.assertEqual(ended[0].state, job_pb2.JOB_STATE_DONE)
            # Again because its server was killed, and only once.
            self.assertLessEqual(ended[0].attempt, 2, self.server.log())

    def tidy_while_the_clock_is_ahead(self, gait):
        self.ask("retire", gait, "--reason", "the clock is set")
        self.clocks["server"].set(self.clocks["server"].offset_s + 40 * DAY_S)
        self.check_server_clock()

        def is_told():
            self.ask("tidy", "--days", "30", "--remove")
            return re.search('event="clock was set forward since the start" by=(960h|959h59m5)', self.server.log())

        self.assertTrue(await_true(is_told, 20), self.server.log())
        self.ask("show", gait)
        self.ask("reinstate", gait)

    def run_through(self):
        job, gait = self.set_clocks_while_it_solves()
        self.stream_while_the_clock_is_set(gait)
        self.set_clocks_while_the_server_is_away()
        self.tidy_while_the_clock_is_ahead(gait)
        jobs = json.loads(self.ask("jobs", "--json"))["jobs"]
        self.assertEqual({one["state"] for one in jobs}, {"JOB_STATE_DONE"})
        self.assertEqual(self.job(job)["gait"], gait)
        begin = time.monotonic()
        self.assertEqual(self.server.stop(), 0, self.server.log())
        self.assertLess(time.monotonic() - begin, 30)
        done = subprocess.run([BIN / "check_library", self.library], stdout=subprocess.PIPE,
                              text=True, check=False)
        self.assertEqual(done.returncode, 0, done.stdout)

    def test_a_library_in_a_file(self):
        self.begin(self.path / "library.db")
        self.run_through()

    def test_a_library_in_a_database(self):
        database = Database(self.path / "cluster", self.clocks["database"].environment())
        database.start()
        self.addCleanup(database.stop)
        self.begin(database.address)
        self.run_through()


if __name__ == "__main__":
    unittest.main(argv=["clock_test", *sys.argv[3:]], verbosity=2)
