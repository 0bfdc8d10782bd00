#!/usr/bin/python3
"""Makes the Python modules of proto/ inside a folder of the package. Used by CMake and by setup.py.

Usage: make_messages.py PROTO_FOLDER PACKAGE_FOLDER [PROTOC GRPC_PYTHON_PLUGIN]
Writes PACKAGE_FOLDER/v1 (gaitshelf.v1) and PACKAGE_FOLDER/rpc (our copy of google.rpc, kept inside
the package so that an installation writes nothing into a folder that others share).
"""
from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path


class Trouble(Exception):
    """Something that ends the run; its text is for a person."""


def program(name: str, package: str) -> str:
    """Returns the path of a program, or raises Trouble that names the Debian package of it."""
    found = shutil.which(name)
    if not found:
        raise Trouble(f"{name} is missing; install {package} (deploy/install-packages does)")
    return found


def make_messages(proto: Path, package: Path, protoc: str = "", plugin: str = "") -> None:
    """Writes every module; raises Trouble when a program is missing or refuses."""
    protoc = protoc or program("protoc", "protobuf-compiler")
    plugin = plugin or program("grpc_python_plugin", "protobuf-compiler-grpc")
    sources = sorted(proto.glob("gaitshelf/v1/*.proto")) + sorted(proto.glob("google/rpc/*.proto"))
    if not sources:
        raise Trouble(f"{proto} has no gaitshelf/v1/*.proto; run it inside a whole checkout")
    services = [source for source in sources if source.stem.endswith("_service")]
    with tempfile.TemporaryDirectory() as folder:
        run([protoc, f"-I{proto}", f"--python_out={folder}", *map(str, sources)])
        run([protoc, f"-I{proto}", f"--plugin=protoc-gen-grpc_python={plugin}",
             f"--grpc_python_out={folder}", *map(str, services)])
        for source, target in (("gaitshelf/v1", "v1"), ("google/rpc", "rpc")):
            shutil.rmtree(package / target, ignore_errors=True)  # modules of messages that are gone
            (package / target).mkdir(parents=True)
            (package / target / "__init__.py").write_text("", encoding="ascii")
            for module in sorted((Path(folder) / source).glob("*.py")):
                shutil.copyfile(module, package / target / module.name)


def run(words: list[str]) -> None:
    process = subprocess.run(words, check=False, capture_output=True, text=True)
    if process.returncode != 0:
        raise Trouble(f"{words[0]} ended with {process.returncode}:\n{process.stderr}")


if __name__ == "__main__":
    if len(sys.argv) not in (3, 5):
        sys.exit(__doc__)
    try:
        make_messages(Path(sys.argv[1]), Path(sys.argv[2]), *sys.argv[3:])
    except Trouble as trouble:
        sys.exit(f"make_messages.py: {trouble}")
