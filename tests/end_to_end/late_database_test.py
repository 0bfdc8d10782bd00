"""A machine that starts may have its server before its database, or without one.

Usage: late_database_test.py BIN_FOLDER SOURCE_FOLDER. Needs PYTHONPATH with the package gaitshelf.
"""
import time
import unittest

from programs import SOURCE, Database, Server, await_true, make_folder

# More than a running server waits for its database.
LATE_S = 7.0


class LateDatabaseTest(unittest.TestCase):
    def setUp(self):
        self.path = make_folder(self)
        self.database = Database(self.path / "cluster")
        self.database.start()
        self.database.stop()

    def start(self, *flags):
        server = Server(self.path, self.database.address, "--workers", "1", *flags)
        server.start()
        self.addCleanup(lambda: server.is_up() and server.kill())
        self.assertTrue(await_true(lambda: "out of reach" in server.log()), server.log())
        return server

    def test_a_server_comes_up_when_its_database_does(self):
        server = self.start()
        time.sleep(LATE_S)
        self.assertTrue(server.is_up(), server.log())
        self.database.start()
        self.addCleanup(self.database.stop)
        self.assertTrue(await_true(server.answers), server.log())
        self.assertIn('event="library is back" away_s=', server.log())
        self.assertEqual(server.log().count('event="library is out of reach"'), 1, server.log())
        code, out, err = server.command(
            "robot", "put", str(SOURCE / "deploy/demo/weevil-lumped.robot.textproto"))
        self.assertEqual(code, 0, out + err)
        self.assertEqual(server.stop(), 0, server.log())

    def test_a_server_that_waits_can_be_stopped(self):
        server = self.start()
        self.assertEqual(server.stop(10), 0, server.log())
        self.assertIn("server has stopped before it could reach the library", server.log())

    def test_a_server_does_not_wait_longer_than_it_may(self):
        server = self.start("--library-wait-s", "1")
        self.assertEqual(server.process.wait(30), 1, server.log())
        self.assertIn("the database is out of reach", server.log())


if __name__ == "__main__":
    unittest.main(argv=["late_database_test"], verbosity=2)
