"""Installs the package by CMake and by pip into folders of its own, and imports it from there.

Usage: install_test.py BUILD_FOLDER SOURCE_FOLDER CMAKE. Nothing is fetched from anywhere.
"""
import os
import re
import shutil
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

BUILD = Path(sys.argv[1])
SOURCE = Path(sys.argv[2])
CMAKE = sys.argv[3]
PYTHON = "/usr/bin/python3"
# Imports all, also the messages of every service, and says where from.
PROBE = ("import gaitshelf, gaitshelf.plots, gaitshelf.v1.playback_service_pb2_grpc; "
         "from gaitshelf.errors import error_details_pb2; gaitshelf.connect('unix:/none').close(); "
         "print(gaitshelf.__file__)")


def run(*words, **options):
    """Returns standard output; fails with everything that was printed."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
    environment.update(options.pop("environment", {}))
    process = subprocess.run([str(word) for word in words], capture_output=True, text=True,
                             check=False, env=environment, **options)
    if process.returncode != 0:
        raise AssertionError(f"{words} ended with {process.returncode}:\n"
                             f"{process.stdout}{process.stderr}")
    return process.stdout


def modules(folder):
    return {str(path.relative_to(folder)) for path in folder.rglob("*.py")}


class InstallTest(unittest.TestCase):
    def setUp(self):
        temporary = tempfile.TemporaryDirectory(prefix="gaitshelf-install-")
        self.addCleanup(temporary.cleanup)
        self.folder = Path(temporary.name)

    def checkout(self):
        """Returns a copy of what pip needs: it writes beside the sources."""
        copy = self.folder / "checkout"
        for part in ("proto", "clients/python"):
            shutil.copytree(SOURCE / part, copy / part, ignore=shutil.ignore_patterns(
                "__pycache__", "build", "*.egg-info"))
        shutil.copy(SOURCE / "CMakeLists.txt", copy)
        return copy

    def cmake_installed(self):
        run(CMAKE, "--install", BUILD, "--prefix", self.folder / "prefix", "--component", "python")
        return next((self.folder / "prefix").rglob("gaitshelf/__init__.py")).parent

    def test_cmake_installs_a_package_where_debians_python_looks_below_a_prefix(self):
        package = self.cmake_installed()
        version = f"python{sys.version_info[0]}.{sys.version_info[1]}"
        self.assertEqual(package, self.folder / "prefix" / "lib" / version / "dist-packages" / "gaitshelf")
        out = run(PYTHON, "-B", "-c", PROBE, cwd="/",
                  environment={"PYTHONPATH": str(package.parent)})
        self.assertEqual(Path(out.strip()), package / "__init__.py")

    def test_pip_installs_the_same_modules(self):
        run(PYTHON, "-m", "venv", "--without-pip", "--system-site-packages", self.folder / "venv")
        python = self.folder / "venv" / "bin" / "python"
        run(python, "-m", "pip", "install", "--no-index", "--no-build-isolation",
            self.checkout() / "clients" / "python", cwd="/",
            environment={"PIP_CACHE_DIR": str(self.folder / "cache")})
        package = Path(run(python, "-B", "-c", PROBE, cwd="/").strip()).parent
        self.assertTrue(package.is_relative_to(self.folder / "venv"), package)
        self.assertEqual(modules(package), modules(self.cmake_installed()))
        # Nothing lies beside the package in a folder that others share.
        self.assertFalse((package.parent / "google").exists())
        version = re.search(r"VERSION ([0-9.]+)", (SOURCE / "CMakeLists.txt").read_text(
            encoding="utf-8").split("project(gaitshelf")[1])[1]
        self.assertIn(f"Version: {version}\n", run(python, "-m", "pip", "show", "gaitshelf", cwd="/"))

    def test_every_source_is_installed(self):
        made = modules(self.cmake_installed())
        sources = modules(SOURCE / "clients" / "python" / "gaitshelf")
        self.assertLessEqual(sources, made)
        services = {path.stem for path in (SOURCE / "proto/gaitshelf/v1").glob("*_service.proto")}
        self.assertLessEqual({f"v1/{name}_pb2_grpc.py" for name in services}, made)

    def test_commands_of_the_readme_are_those_that_are_tested(self):
        text = (SOURCE / "README.md").read_text(encoding="utf-8")
        for line in ("cmake --install .build/release --component python",
                     "python -m pip install --no-index --no-build-isolation ./clients/python"):
            self.assertIn(f"\n{line}\n", text)

    def test_missing_compiler_of_messages_is_named_with_its_package(self):
        process = subprocess.run(
            [PYTHON, "-B", SOURCE / "clients/python/make_messages.py", SOURCE / "proto", self.folder],
            env={"PATH": str(self.folder)}, capture_output=True, text=True, check=False)
        self.assertEqual(process.returncode, 1)
        self.assertIn("protoc is missing; install protobuf-compiler", process.stderr)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], verbosity=2)
