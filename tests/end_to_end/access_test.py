"""Knocks at a server behind mutual TLS, as members and others would, with programs of their own.

Usage: access_test.py BIN_FOLDER SOURCE_FOLDER. Needs PYTHONPATH with the package gaitshelf.
"""
import json
import os
import re
import subprocess
import sys
import tempfile
import time
import unittest
import urllib.request
from pathlib import Path

import grpc

import gaitshelf
from gaitshelf.channel import open_channel
from gaitshelf.v1 import job_service_pb2, job_service_pb2_grpc
from house import BIN, SOURCE

ORDER = ["order", "--robot", "weevil-lumped", "--surface", "liner-felt", "--frequency", "12Hz",
         "--advance", "9mm"]


class Lab:
    """An authority with a keeper, a planner and a reader, and a server that trusts it."""

    def __init__(self):
        self.folder = tempfile.TemporaryDirectory(prefix="gaitshelf-lab-")
        self.path = Path(self.folder.name)
        self.server = None
        self.ca("init")
        self.ca("server", "gait.lab")
        for name, role in (("ada", "keeper"), ("kim", "planner"), ("ben", "reader")):
            self.ca("member", name, role)

    def ca(self, command, *words):
        subprocess.run([SOURCE / "deploy" / "lab-ca", command, self.path, *words], check=True,
                       stdout=subprocess.DEVNULL)

    def start(self, *flags):
        with open(self.path / "log", "ab") as log:
            self.server = subprocess.Popen(
                [BIN / "gaitshelfd", "--library", self.path / "library.db", "--listen",
                 "0.0.0.0:0", "--listen", f"unix:{self.path}/g.sock", "--tls",
                 self.path / "server", *flags], stdout=subprocess.PIPE, stderr=log)
        line = self.server.stdout.readline().decode()
        assert "is ready" in line, self.log()
        self.port = int(re.search(r"0\.0\.0\.0:(\d+)", line)[1])
        self.address = f"127.0.0.1:{self.port}"

    def stop(self):
        code = 0
        if self.server is not None:
            self.server.terminate()
            code = self.server.wait(60)
            self.server.stdout.close()
            self.server = None
        return code

    def log(self):
        return (self.path / "log").read_text()

    def identity(self, name):
        return self.path / "member" / name

    def command(self, name, *words):
        """Runs the command as a member; returns exit code and everything it printed."""
        environment = dict(os.environ, GAITSHELF_SERVER=self.address)
        if name:
            environment["GAITSHELF_IDENTITY"] = str(self.identity(name))
        done = subprocess.run([BIN / "gaitshelf", *words], env=environment, cwd=SOURCE, text=True,
                              stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False)
        return done.returncode, done.stdout

    def openssl(self, *words):
        subprocess.run(["openssl", *words], check=True, cwd=self.path, stdout=subprocess.DEVNULL,
                       stderr=subprocess.DEVNULL)

    def issue_by_hand(self, name, authority, key, start, end, uri):
        """Issues a certificate that deploy/lab-ca would not, with openssl's own small authority."""
        folder = self.identity(name)
        folder.mkdir()
        (self.path / "index").write_text("")
        (self.path / "config").write_text(
            "[ca]\ndefault_ca=d\n[d]\ndatabase=index\nnew_certs_dir=.\nrand_serial=yes\n"
            "default_md=sha256\npolicy=p\nx509_extensions=x\n[p]\ncommonName=supplied\n[x]\n"
            f"extendedKeyUsage=clientAuth\nsubjectAltName=URI:{uri}\n")
        self.openssl("req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes",
                     "-keyout", f"{folder}/member.key", "-subj", f"/CN={name}", "-out", "request")
        self.openssl("ca", "-batch", "-notext", "-config", "config", "-cert", authority,
                     "-keyfile", key, "-startdate", start, "-enddate", end, "-in", "request",
                     "-out", f"{folder}/member.pem")
        (folder / "ca.pem").write_bytes((self.path / "server" / "ca.pem").read_bytes())


class AccessTest(unittest.TestCase):
    def setUp(self):
        self.lab = Lab()
        self.addCleanup(self.lab.folder.cleanup)
        self.addCleanup(lambda: self.assertEqual(self.lab.stop(), 0))
        self.lab.start()

    def run_ok(self, name, *words):
        code, printed = self.lab.command(name, *words)
        self.assertEqual(code, 0, printed)
        return printed

    def refuse(self, text, name, *words):
        code, printed = self.lab.command(name, *words)
        self.assertEqual(code, 1, printed)
        self.assertIn(text, printed)

    def await_log(self, text):
        for _ in range(1000):
            if text in self.lab.log():
                return
            time.sleep(0.02)
        self.fail(f"'{text}' is not in the log:\n{self.lab.log()}")

    def test_roles_hold_and_the_log_of_changes_names_members(self):
        self.refuse("ben is a reader; PutRobot takes a planner", "ben", "robot", "put",
                    "deploy/demo/weevil-lumped.robot.textproto")
        self.await_log('event="call is refused" call=/gaitshelf.v1.LibraryService/PutRobot member=ben '
                       'code=PERMISSION_DENIED reason="ben is a reader; ')
        self.run_ok("kim", "robot", "put", "deploy/demo/weevil-lumped.robot.textproto")
        self.run_ok("kim", "surface", "put", "deploy/demo/liner-felt.surface.textproto")
        self.refuse("OrderGait takes a planner", "ben", *ORDER)
        self.await_log("call=/gaitshelf.v1.JobService/OrderGait member=ben")
        self.run_ok("kim", *ORDER, "--quiet")
        self.assertRegex(self.run_ok("ben", "gaits"), r"liner-felt +12 .* good")
        self.refuse("kim is a planner; CollectGarbage takes a keeper", "kim", "tidy")
        self.run_ok("ada", "tidy")
        log = self.run_ok("ben", "changes")
        for change in ("put robot weevil-lumped", "order job j-1", "store gait"):
            self.assertRegex(log, rf"kim .*\n +{change}")
        self.assertNotIn("ben", log)

    def test_python_shows_its_identity_and_provenance_names_the_member(self):
        with gaitshelf.connect(self.lab.address, self.lab.identity("kim")) as client:
            client.put_robot(SOURCE / "deploy/demo/weevil-lumped.robot.textproto")
            client.put_surface(SOURCE / "deploy/demo/liner-felt.surface.textproto")
            gait = client.order("weevil-lumped", "liner-felt", frequency_hz=12.0, advance_m=0.009)
            self.assertEqual(gait.message.provenance.requester, "kim")
        with gaitshelf.connect(self.lab.address, self.lab.identity("ben")) as client:
            self.assertEqual(client.get(gait.name).name, gait.name)
            with self.assertRaises(gaitshelf.GaitshelfError) as caught:
                client.put_robot(SOURCE / "deploy/demo/weevil-lumped.robot.textproto")
            self.assertEqual(caught.exception.code, "PERMISSION_DENIED")
            # Whoever streams may arm a drive.
            with self.assertRaises(gaitshelf.GaitshelfError) as caught:
                next(client.stream(gait.name, 1.0, is_preview=True))
            self.assertEqual(caught.exception.code, "PERMISSION_DENIED")
        with self.assertRaises(gaitshelf.GaitshelfError) as caught:
            gaitshelf.connect("10.0.3.7:1")
        self.assertIn("no identity", str(caught.exception))

    def test_a_control_loop_shows_its_identity(self):
        for name, code, text in (("ben", 1, "takes a planner"), ("kim", 1, "is not in the library"),
                                 ("", 1, "UNAVAILABLE")):
            environment = dict(os.environ)
            if name:
                environment["GAITSHELF_IDENTITY"] = str(self.lab.identity(name))
            done = subprocess.run([BIN / "control_loop", self.lab.address, "g-none", "1"],
                                  env=environment, stderr=subprocess.PIPE, text=True, check=False)
            self.assertEqual(done.returncode, code, done.stderr)
            self.assertIn(text, done.stderr)

    def test_strangers_do_not_get_past_the_handshake(self):
        self.refuse("a certificate of its laboratory, and its log says why", "", "gaits")
        # A client without TLS, of which the server's TLS makes nothing.
        self.await_log('event="client is refused at the handshake" reason="it does not speak TLS')
        self.lab.openssl("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256",
                         "-nodes", "-keyout", "other.key", "-subj", "/CN=other", "-out", "other.pem")
        self.lab.issue_by_hand("eve", "other.pem", "other.key", "20200101000000Z",
                               "20990101000000Z", "gaitshelf:member/ada")
        self.refuse("no server answers", "eve", "gaits")
        self.await_log("is of another authority, has ended or does not hold yet")
        authority = (self.lab.path / "server" / "ca.pem").read_bytes()
        with grpc.secure_channel(self.lab.address,
                                 grpc.ssl_channel_credentials(authority)) as channel:
            with self.assertRaises(grpc.RpcError) as caught:
                channel.unary_unary("/grpc.health.v1.Health/Check")(b"", timeout=30)
        self.assertEqual(caught.exception.code(), grpc.StatusCode.UNAVAILABLE)
        self.await_log('event="client is refused at the handshake" reason="it has shown no certificate"')

    def test_a_certificate_that_has_ended_is_refused_by_both_sides(self):
        self.lab.issue_by_hand("old", "server/ca.pem", "private/ca.key", "20200101000000Z",
                               "20200201000000Z", "gaitshelf:member/ada")
        self.refuse("member.pem held until 2020-02-01 00:00 UTC; have a new one issued", "old",
                    "gaits")
        with gaitshelf.connect(self.lab.address, self.lab.identity("old")) as client:
            with self.assertRaises(gaitshelf.Unreachable):
                client.list()
        self.await_log("has ended or does not hold yet")

    def test_a_certificate_of_the_laboratory_that_the_list_does_not_name_is_refused(self):
        self.lab.issue_by_hand("second", "server/ca.pem", "private/ca.key", "20200101000000Z",
                               "20990101000000Z", "gaitshelf:member/ada")
        self.refuse("this certificate of his does not count any more", "second", "gaits")
        self.lab.issue_by_hand("unnamed", "server/ca.pem", "private/ca.key", "20200101000000Z",
                               "20990101000000Z", "https://lab.example/ada")
        self.refuse("names no member", "unnamed", "gaits")

    def test_members_come_and_go_while_the_server_runs(self):
        with gaitshelf.connect(self.lab.address, self.lab.identity("ben")) as client:
            client.list()
            self.lab.ca("remove", "ben")
            for _ in range(1000):  # over the same connection
                try:
                    client.list()
                except gaitshelf.GaitshelfError as error:
                    self.assertEqual(error.code, "PERMISSION_DENIED")
                    break
                time.sleep(0.02)
            else:
                self.fail("a member who was removed is still served")
        self.lab.ca("member", "liv", "reader")
        self.await_new_member("liv")

    def await_new_member(self, name):
        for _ in range(300):
            code, printed = self.lab.command(name, "gaits")
            if code == 0:
                return
            time.sleep(0.1)
        self.fail(printed)

    def server_certificate(self):
        done = subprocess.run(
            ["openssl", "s_client", "-connect", self.lab.address, "-showcerts", "-cert",
             self.lab.identity("ben") / "member.pem", "-key", self.lab.identity("ben") / "member.key"],
            input=b"", stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, check=False, timeout=60)
        return re.search(rb"-----BEGIN CERTIFICATE-----.*?-----END CERTIFICATE-----", done.stdout,
                         re.DOTALL)[0]

    def test_the_servers_certificate_is_exchanged_while_it_runs(self):
        with gaitshelf.connect(self.lab.address, self.lab.identity("ben")) as client:
            client.list()
            old = self.server_certificate()
            self.lab.ca("server", "gait.lab")
            for _ in range(600):
                if self.server_certificate() != old:
                    break
                time.sleep(0.1)
            new = (self.lab.path / "server" / "server.pem").read_bytes()
            self.assertIn(self.server_certificate(), new)
            client.list()  # the old connection goes on
        self.run_ok("ben", "gaits")

    def test_without_tls_only_this_machine_is_served(self):
        done = subprocess.run([BIN / "gaitshelfd", "--library", self.lab.path / "other.db",
                               "--listen", "0.0.0.0:0"], stderr=subprocess.PIPE, text=True,
                              check=False, timeout=60)
        self.assertEqual(done.returncode, 2)
        self.assertIn("without --tls nobody proves who he is", done.stderr)
        self.assertFalse((self.lab.path / "other.db").exists())
        (self.lab.path / "server" / "server.key").unlink()
        done = subprocess.run([BIN / "gaitshelfd", "--library", self.lab.path / "other.db",
                               "--listen", "0.0.0.0:0", "--tls", self.lab.path / "server"],
                              stderr=subprocess.PIPE, text=True, check=False, timeout=60)
        self.assertEqual(done.returncode, 1)
        self.assertIn("cannot read", done.stderr)

    def restart(self, *flags):
        self.lab.stop()
        self.lab.start(*flags)

    def test_one_member_leaves_others_room(self):
        # A worker that never ends, so that its job can be followed for as long as it takes.
        worker = self.lab.path / "worker"
        worker.write_text("#!/bin/sh\nexec sleep 100000\n")
        worker.chmod(0o700)
        self.restart("--calls-per-member", "2", "--worker-program", worker)
        for kind, name in (("robot", "weevil-lumped"), ("surface", "liner-felt")):
            self.run_ok("kim", kind, "put", f"deploy/demo/{name}.{kind}.textproto")
        job = json.loads(self.run_ok("kim", *ORDER, "--detach", "--json"))["job"]["name"]
        stub = job_service_pb2_grpc.JobServiceStub
        channel = open_channel(self.lab.address, self.lab.identity("kim"))
        self.addCleanup(channel.close)
        calls = [stub(channel).WatchJob(job_service_pb2.WatchJobRequest(name=job)) for _ in range(2)]
        for call in calls:
            self.assertEqual(next(call).job.name, job)
        self.refuse("2 calls of kim are under way already", "kim", "jobs")
        self.run_ok("ada", "jobs")
        calls[0].cancel()
        for _ in range(1000):  # the server hears of it in a moment
            code, printed = self.lab.command("kim", "jobs")
            if code == 0:
                break
            time.sleep(0.02)
        self.assertEqual(code, 0, printed)

    def health(self, service=""):
        # grpc.health.v1 by hand: the request's field 1 is the service, the answer's field 1 the status.
        request = bytes([10, len(service)]) + service.encode() if service else b""
        with open_channel(f"unix:{self.lab.path}/g.sock", None) as channel:
            return channel.unary_unary("/grpc.health.v1.Health/Check")(request, timeout=30)

    def test_metrics_and_health_tell_the_truth(self):
        self.restart("--metrics", "127.0.0.1:0")
        self.assertEqual(self.health(), b"\x08\x01")
        self.refuse("takes a keeper", "ben", "tidy")
        self.run_ok("ben", "gaits")
        self.assertEqual(self.lab.command("ben", "show", "g-none")[0], 4)  # by a call that reports itself
        page = re.search(r'event="metrics are served" at=(http://\S+)', self.lab.log())[1]
        with urllib.request.urlopen(page, timeout=30) as answer:
            text = answer.read().decode()
        self.assertIn("\ngaitshelf_well 1", text)
        self.assertIn('\ngaitshelf_calls_total{call="LibraryService/ListGaits",code="OK"} 1', text)
        self.assertIn('\ngaitshelf_calls_total{call="LibraryService/GetGait",code="NOT_FOUND"} 1', text)
        self.assertIn('\ngaitshelf_calls_running{call="LibraryService/GetGait"} 0', text)
        # More than any disk has.
        self.restart("--metrics", "127.0.0.1:0", "--least-disk-mb", "1000000000")
        self.assertEqual(self.health(), b"\x08\x02")
        self.assertEqual(self.health("gaitshelf.v1.JobService"), b"\x08\x02")
        self.await_log('event="server is unwell" problems="the disk of the library has')

    def test_the_owners_socket_needs_no_certificate(self):
        done = subprocess.run([BIN / "gaitshelf", "gaits", "--server",
                               f"unix:{self.lab.path}/g.sock"], check=False, stdout=subprocess.PIPE)
        self.assertEqual(done.returncode, 0)


if __name__ == "__main__":
    unittest.main(argv=["access_test", *sys.argv[3:]], verbosity=2)
