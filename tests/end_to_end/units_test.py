"""Holds the unit for systemd and the example of a configuration against the programs that read them.

Usage: units_test.py BIN_FOLDER SOURCE_FOLDER. What systemd says of its unit is asked where it is
installed.
"""
import re
import shutil
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

BIN = Path(sys.argv[1]).resolve()
UNITS = Path(sys.argv[2]).resolve() / "deploy" / "systemd"
# Of systemd's own scale from 0 to 100, where the usual service has 96: what the hardening keeps.
MOST_EXPOSED = "15"


class UnitsTest(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="gaitshelf-units-")
        self.addCleanup(folder.cleanup)
        self.path = Path(folder.name)

    def unit(self):
        """Returns the unit with the path of the program that was built."""
        text = (UNITS / "gaitshelfd.service").read_text()
        path = self.path / "gaitshelfd.service"
        path.write_text(text.replace("/usr/local/bin/gaitshelfd", str(BIN / "gaitshelfd")))
        return path

    @unittest.skipUnless(shutil.which("systemd-analyze"), "systemd is not installed")
    def test_systemd_takes_the_unit_and_finds_it_hardened(self):
        for words in (["verify", "--man=no"],
                      ["security", "--offline=true", f"--threshold={MOST_EXPOSED}"]):
            done = subprocess.run(["systemd-analyze", *words, self.unit()], text=True, check=False,
                                  stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
            self.assertEqual(done.returncode, 0, done.stdout)
            if words[0] == "verify":
                self.assertEqual(done.stdout, "")

    def configuration(self):
        """Returns the example with every folder of it made below our own."""
        text = (UNITS / "gaitshelfd.conf").read_text()
        for folder in ("/var/lib/gaitshelf", "/run/gaitshelf", "/etc/gaitshelf"):
            text = text.replace(folder, str(self.path) + folder)
            (self.path / folder[1:]).mkdir(parents=True)
        (self.path / "var/lib/gaitshelf/backups").mkdir()
        path = self.path / "gaitshelfd.conf"
        path.write_text(text)
        return path

    def check(self, path):
        done = subprocess.run([BIN / "gaitshelfd", "--config", path, "--check"], text=True,
                              stderr=subprocess.PIPE, check=False, timeout=60)
        return done.returncode, done.stderr

    def test_the_server_takes_the_configuration(self):
        path = self.configuration()
        self.assertEqual(self.check(path), (0, "gaitshelfd: all of this can work\n"))
        shutil.rmtree(self.path / "var/lib/gaitshelf/backups")
        code, said = self.check(path)
        self.assertEqual(code, 2)
        self.assertIn("--backups", said)

    def test_the_lines_for_members_are_flags_too(self):
        path = self.configuration()
        text = path.read_text()
        path.write_text(re.sub(r"^# (listen|tls) =", r"\1 =", text, flags=re.MULTILINE))
        self.assertNotEqual(path.read_text(), text)
        code, said = self.check(path)
        self.assertEqual(code, 2)
        self.assertIn("server.pem", said)
        self.assertNotIn("flag", said)


if __name__ == "__main__":
    unittest.main(argv=["units_test"], verbosity=2)
