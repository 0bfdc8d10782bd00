#!/usr/bin/python3
"""Checks which room may include which. The arrows of the house point one way.

Inside solver/ a room may use itself and the rooms before it. The service may not use the solver,
but for pure checks and for the worker, which is the one program that solves. The clients know the
messages and the services, nothing else of ours.
"""
import fnmatch
import re

import checkout

SOLVER_ROOMS = ["base", "mechanism", "robot", "leg", "contact", "plan", "replay", "measure", "calibrate", "pose"]

# Marks: <std> is a standard header, <system> one of the operating system. <messages> are the descriptions, gaits and
# jobs; <service messages> are what services take and return, still without gRPC.
SOLVER = ["<std>", "<messages>", "absl/", "Eigen/", "google/protobuf/"]
SERVICE = ["<std>", "<system>", "<messages>", "<service messages>", "absl/", "google/protobuf/", "solver/base/", "service/log/"]
GRPC = ["grpcpp/", "grpc/", "gaitshelf/v1/", "google/rpc/"]

# Extra that a room of the solver may include.
SOLVER_EXTRA = {
    "robot": ["openssl/"],
    "contact": ["ceres/"],
    "plan": ["ceres/", "glog/"],  # glog is how Ceres speaks
    "calibrate": ["ceres/", "glog/"],
    "pose": ["ceres/"],
    "replay": ["time.h"],  # processor time of the replay's own thread
}

# (files, what they may include); the first that matches counts.
RULES = [
    *((f"solver/{room}/*",
       SOLVER + SOLVER_EXTRA.get(room, []) + [f"solver/{r}/" for r in SOLVER_ROOMS[:i + 1]])
      for i, room in enumerate(SOLVER_ROOMS)),
    ("service/log/*", SERVICE),
    ("service/library/*", SERVICE + ["sqlite3.h", "libpq-fe.h", "openssl/", "service/library/"]),
    # The worker program: the one place where the service solves.
    *((f"service/jobs/{part}", SERVICE + ["solver/", "service/library/", "service/jobs/"])
      for part in ("worker_main.cc", "worker_job.*", "worker_reporter.*", "run_job.*", "job_reporter.*")),
    ("service/jobs/*", SERVICE + ["service/library/", "service/jobs/"]),
    ("service/playback/*", SERVICE + ["service/library/", "service/playback/"]),
    ("service/access/*", SERVICE + GRPC + ["openssl/", "service/access/"]),
    ("service/telemetry/*", SERVICE + ["grpcpp/", "prometheus/", "service/library/", "service/telemetry/"]),
    ("service/api/*", SERVICE + GRPC + ["solver/robot/", "solver/mechanism/", "solver/leg/", "solver/measure/",
                                        "solver/calibrate/", "solver/pose/",
                                        "service/"]),
    ("clients/channel/*", ["<std>", "absl/", "grpcpp/", "openssl/", "clients/channel/"]),
    ("clients/*", ["<std>", "<system>", "absl/", "google/protobuf/", *GRPC, "clients/"]),
]

INCLUDE = re.compile(r'^\s*#\s*include\s+[<"]([^>"]+)[>"]')
STANDARD = re.compile(r"[a-z_0-9]+")
SYSTEM = re.compile(r"(sys|netinet|arpa)/[a-z_]+\.h|(unistd|fcntl|signal|poll|termios|spawn|pwd)\.h")
MESSAGES = re.compile(r"gaitshelf/v1/(?!.*_service)[a-z_]+\.pb\.h|google/rpc/[a-z_]+\.pb\.h")
SERVICE_MESSAGES = re.compile(r"gaitshelf/v1/[a-z_]+_service\.pb\.h")


def is_permitted(header, allowed):
    for rule in allowed:
        if rule == "<std>" and STANDARD.fullmatch(header):
            return True
        if rule == "<system>" and SYSTEM.fullmatch(header):
            return True
        if rule == "<messages>" and MESSAGES.fullmatch(header):
            return True
        if rule == "<service messages>" and SERVICE_MESSAGES.fullmatch(header):
            return True
        if header == rule or (rule.endswith("/") and header.startswith(rule)):
            return True
    return False


def check(root):
    faults = []
    for path in checkout.files(root, ".h", ".cc"):
        if path.parts[0] not in ("solver", "service", "clients"):
            continue
        allowed = next((rule for pattern, rule in RULES if fnmatch.fnmatch(str(path), pattern)), None)
        if allowed is None:
            faults.append(f"{path}: no rule in include_lint.py for this folder")
            continue
        for number, line in enumerate((root / path).read_text().splitlines(), 1):
            match = INCLUDE.match(line)
            if match and not is_permitted(match[1], allowed):
                faults.append(f"{path}:{number}: {path.parent}/ may not include {match[1]}")
    return faults


if __name__ == "__main__":
    checkout.run("include_lint", check)
