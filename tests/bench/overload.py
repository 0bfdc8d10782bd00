#!/usr/bin/python3
"""Measures how the server bears more than it can do: who is refused, how soon, and what memory it takes.

Usage: overload.py [--calls N] [--json FILE]

Four storms over a Unix socket, each from four connections:
  followed  that many calls that follow one job which never ends
  gaits     that many calls for one gait at once, with clients that read
  slow      streams whose clients never read
  large     that many requests of 2 MB, where 1 MiB is allowed
"""
import argparse
import json
import sys
import tempfile
import threading
import time
from pathlib import Path

import bench_server
import machine

import grpc
import gaitshelf
from gaitshelf.v1 import (job_service_pb2, job_service_pb2_grpc, library_service_pb2,
                          library_service_pb2_grpc, playback_service_pb2,
                          playback_service_pb2_grpc)

CHANNELS = 4


class Storm:
    """Starts calls and keeps when each ended, and how."""

    def __init__(self, server, name):
        self.server = server
        self.name = name
        self.lock = threading.Lock()
        self.ends = {}
        self.calls = []
        self.channels = [grpc.insecure_channel(server.address, options=[
            ("grpc.use_local_subchannel_pool", 1), ("grpc.max_receive_message_length", 16 << 20)])
            for _ in range(CHANNELS)]
        for channel in self.channels:
            grpc.channel_ready_future(channel).result(60)
        self.before_mb = server.memory_mb("VmRSS")

    def start(self, count, begin):
        for i in range(count):
            number = len(self.calls)
            start = time.monotonic()
            call = begin(self.channels[i % CHANNELS])
            self.calls.append(call)
            call.add_done_callback(lambda done, n=number, s=start: self.take(n, s, done))

    def take(self, number, start, call):
        with self.lock:
            self.ends[number] = (time.monotonic() - start, call.code().name)

    def settle(self):
        """Waits until nothing has ended for two seconds."""
        last, since = -1, time.monotonic()
        while time.monotonic() - since < 2.0:
            if len(self.ends) != last:
                last, since = len(self.ends), time.monotonic()
            time.sleep(0.05)

    def report(self):
        self.settle()
        by_code = {}
        for duration_s, code in self.ends.values():
            by_code.setdefault(code, []).append(duration_s)
        result = {"storm": self.name, "calls": len(self.calls),
                  "under_way": len(self.calls) - len(self.ends),
                  "server_mb_before": round(self.server.memory_mb("VmRSS") if not self.before_mb
                                            else self.before_mb, 1),
                  "server_mb_after": round(self.server.memory_mb("VmRSS"), 1),
                  "server_mb_peak": round(self.server.memory_mb("VmHWM"), 1), "ended": {}}
        for code, durations in sorted(by_code.items()):
            durations.sort()
            result["ended"][code] = {
                "count": len(durations),
                "p50_ms": round(1e3 * durations[len(durations) // 2], 1),
                "p99_ms": round(1e3 * durations[int(0.99 * (len(durations) - 1))], 1)}
        result["answers_another_ms"] = self.probe_ms()
        for call in self.calls:
            call.cancel()
        for channel in self.channels:
            channel.close()
        return result

    def probe_ms(self):
        """Asks something small on a connection of its own, as everybody else would."""
        with grpc.insecure_channel(self.server.address,
                                   options=[("grpc.use_local_subchannel_pool", 1)]) as channel:
            start = time.monotonic()
            library_service_pb2_grpc.LibraryServiceStub(channel).ListRobots(
                library_service_pb2.ListRobotsRequest(), timeout=60)
            return round(1e3 * (time.monotonic() - start), 1)


def put_and_order(server):
    """Returns the name of a good gait."""
    with gaitshelf.connect(server.address) as client:
        client.put_robot(bench_server.DEMO / "weevil-lumped.robot.textproto")
        client.put_surface(bench_server.DEMO / "liner-felt.surface.textproto")
        return client.order("weevil-lumped", "liner-felt", frequency_hz=12.0, advance_m=0.009).name


def endless_job(server):
    with gaitshelf.connect(server.address) as client:
        order = gaitshelf.Order("weevil-lumped", "liner-felt", 13.0, 0.008)
        return client.submit(order).name


def storms(server, gait, job, count):
    storm = Storm(server, "followed")
    storm.start(count, lambda channel: job_service_pb2_grpc.JobServiceStub(channel).WatchJob(
        job_service_pb2.WatchJobRequest(name=job)))
    yield storm.report()
    storm = Storm(server, "gaits")
    storm.start(count, lambda channel: library_service_pb2_grpc.LibraryServiceStub(
        channel).GetGait.future(library_service_pb2.GetGaitRequest(name=gait)))
    yield storm.report()
    storm = Storm(server, "slow")
    request = playback_service_pb2.StreamSetpointsRequest(
        gait=gait, duration_s=86400.0, is_preview=True, is_unpaced=True)
    storm.start(100, lambda channel: playback_service_pb2_grpc.PlaybackServiceStub(
        channel).StreamSetpoints(request))
    yield storm.report()
    storm = Storm(server, "large")
    text = b"\x0a" + bytes([0x80, 0x80, 0x80, 0x01]) + bytes(2 << 20)
    storm.start(count, lambda channel: channel.unary_unary(
        "/gaitshelf.v1.LibraryService/PutRobot").future(text))
    yield storm.report()


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--calls", type=int, default=2000)
    parser.add_argument("--json", type=Path)
    arguments = parser.parse_args()
    if arguments.calls < 1:
        parser.error(f"--calls is {arguments.calls}; use a whole number of 1 or more")
    results = []
    with tempfile.TemporaryDirectory(prefix="gaitshelf-overload-") as name:
        folder = Path(name)
        with bench_server.Server(folder) as server:
            gait = put_and_order(server)
        worker = folder / "worker"
        worker.write_text("#!/bin/sh\nexec sleep 100000\n")
        worker.chmod(0o700)
        with bench_server.Server(folder, "--worker-program", str(worker)) as server:
            for result in storms(server, gait, endless_job(server), arguments.calls):
                print(json.dumps(result), flush=True)
                results.append(result)
    if arguments.json:
        machine.write_json(arguments.json, {"calls": arguments.calls, "storms": results,
                                            "machine": machine.describe()})
    return 0


if __name__ == "__main__":
    sys.exit(main())
