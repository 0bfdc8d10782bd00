"""Takes in bundles that were cut, changed or broken off, with the command: none leaves anything behind.

Usage: torn_bundle_test.py BIN_FOLDER SOURCE_FOLDER. Needs PYTHONPATH with the package gaitshelf.
"""
import json
import os
import random
import tempfile
import unittest
from pathlib import Path

from programs import SOURCE, Server, await_true

ORDER = ["order", "--robot", "weevil-lumped", "--surface", "liner-felt", "--frequency", "12Hz",
         "--advance", "9mm", "--quiet"]
FIRST_LINE = b"gaitshelf bundle 1\n"
# Of each way to damage a file, beside the places that are looked for.
RANDOM_CASES = 12


def entries_of(bundle):
    """Returns (begin of the length, begin of the content, end) of each entry, read by our own hand."""
    entries = []
    at = len(FIRST_LINE)
    while at < len(bundle):
        begin, size, shift = at, 0, 0
        while bundle[at] & 0x80:
            size |= (bundle[at] & 0x7F) << shift
            shift += 7
            at += 1
        size |= bundle[at] << shift
        at += 1
        entries.append((begin, at, at + size))
        at += size
    return entries


class TornBundleTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory(prefix="gaitshelf-bundle-")
        cls.addClassCleanup(folder.cleanup)
        cls.path = Path(folder.name)
        source = cls.start_server("source")
        for kind, name in (("robot", "weevil-lumped"), ("surface", "liner-felt")):
            cls.ask(source, kind, "put", str(SOURCE / f"deploy/demo/{name}.{kind}.textproto"))
        cls.ask(source, *ORDER)
        cls.ask(source, "bundle", "export", str(cls.path / "whole"))
        cls.bundle = (cls.path / "whole").read_bytes()
        cls.target = cls.start_server("target")

    @classmethod
    def start_server(cls, name):
        folder = cls.path / name
        folder.mkdir()
        server = Server(folder, folder / "library.db", "--workers", "1")
        server.start()
        cls.addClassCleanup(lambda: server.is_up() and server.kill())
        assert await_true(server.answers), server.log()
        return server

    @staticmethod
    def ask(server, *words):
        code, out, err = server.command(*words)
        assert code == 0, err
        return out

    def refuse(self, data, what):
        torn = self.path / "torn"
        torn.write_bytes(data)
        code, out, err = self.target.command("bundle", "import", str(torn))
        self.assertEqual(code, 2, f"{what}: {out}{err}")
        self.assertIn("bundle", err, what)

    def check_target_is_empty(self):
        for words, field in ((["changes"], "changes"), (["gaits"], "gaits"),
                             (["robot", "list"], "robots"), (["surface", "list"], "surfaces")):
            answer = json.loads(self.ask(self.target, *words, "--json"))
            self.assertFalse(answer.get(field), words)

    def places(self):
        """Where a cut or a wrong byte may mean something else: first line, lengths, contents, sum."""
        places = {0, 1, len(FIRST_LINE) // 2, len(FIRST_LINE) - 1}
        for begin, content, end in entries_of(self.bundle):
            places |= {begin, content - 1, content, content + 1, (content + end) // 2, end - 1}
        rng = random.Random(1)
        places |= {rng.randrange(len(self.bundle)) for _ in range(RANDOM_CASES)}
        return sorted(places)

    def test_a_cut_bundle_is_refused(self):
        # Robot, surface, gait, end.
        self.assertEqual(len(entries_of(self.bundle)), 4)
        for size in self.places():
            self.refuse(self.bundle[:size], f"cut at {size} of {len(self.bundle)}")
        self.check_target_is_empty()

    def test_a_bundle_with_a_wrong_byte_is_refused(self):
        for at in self.places():
            for bit in (0x01, 0x80):
                damaged = bytearray(self.bundle)
                damaged[at] ^= bit
                self.refuse(bytes(damaged), f"byte {at} of {len(self.bundle)}, bit {bit}")
        self.check_target_is_empty()

    def test_a_bundle_of_whole_entries_in_another_number_or_order_is_refused(self):
        parts = [self.bundle[begin:end] for begin, _, end in entries_of(self.bundle)]
        robot, surface, gait, end = parts
        for what, kept in {"no gait": [robot, surface, end], "no end": [robot, surface, gait],
                           "only the end": [end], "the end twice": [*parts, end],
                           "a gait twice": [robot, surface, gait, gait, end],
                           "a gait first": [gait, robot, surface, end],
                           "a surface first": [surface, robot, gait, end],
                           "a second bundle behind": [*parts, FIRST_LINE, *parts]}.items():
            self.refuse(FIRST_LINE + b"".join(kept), what)
        self.check_target_is_empty()

    def test_a_command_that_is_killed_while_it_sends_leaves_nothing(self):
        pipe = self.path / "pipe"
        os.mkfifo(pipe)
        for part in (2, 3, 10):
            command = self.target.start_command("bundle", "import", str(pipe))
            with open(pipe, "wb", buffering=0) as end:
                end.write(self.bundle[:len(self.bundle) - len(self.bundle) // part])
                command.kill()
                command.communicate()
        self.check_target_is_empty()

    def test_the_whole_bundle_is_taken(self):
        # Into a library of its own: the others find theirs empty, in whatever order they run.
        other = self.start_server("other")
        self.assertIn("1 gaits and 2 versions",
                      self.ask(other, "bundle", "import", str(self.path / "whole")))


if __name__ == "__main__":
    unittest.main(argv=["torn_bundle_test"], verbosity=2)
