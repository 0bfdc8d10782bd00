"""Build step of `pip install clients/python`: makes the modules of proto/, beside clients/.

The version is that of the project in the top CMakeLists.txt; everything else is in pyproject.toml.
Needs the whole checkout and Debian's protoc with its gRPC plugin.
"""
import re
import sys
from pathlib import Path

from setuptools import setup
from setuptools.command.build_py import build_py

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
sys.path.insert(0, str(HERE))
from make_messages import Trouble, make_messages  # pylint: disable=wrong-import-position


class BuildWithMessages(build_py):
    def run(self):
        super().run()
        try:
            make_messages(ROOT / "proto", Path(self.build_lib) / "gaitshelf")
        except Trouble as trouble:
            sys.exit(f"gaitshelf: {trouble}")


def version() -> str:
    try:
        text = (ROOT / "CMakeLists.txt").read_text(encoding="utf-8")
    except OSError:
        sys.exit(f"gaitshelf: {ROOT} is not a whole checkout; install from inside one")
    return re.search(r"project\(gaitshelf VERSION ([0-9.]+)", text)[1]


setup(version=version(), cmdclass={"build_py": BuildWithMessages})
