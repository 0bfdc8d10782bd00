#!/usr/bin/python3
"""Checks the protobuf files of gaitshelf against the rules of the house.

Every element has a comment and the right case; enumerations have a zero value and a prefix; no
unsigned types, float or packed Any; every floating-point field ends in its unit; requests and
responses are named after their call; the folder is the package, which has a version.
"""
import pathlib
import re
import subprocess
import tempfile

from google.protobuf import descriptor_pb2

import checkout

FIELD = descriptor_pb2.FieldDescriptorProto
UNSIGNED = {FIELD.TYPE_UINT32, FIELD.TYPE_UINT64, FIELD.TYPE_FIXED32, FIELD.TYPE_FIXED64}
SNAKE = r"[a-z][a-z0-9]*(_[a-z0-9]+)*"
PASCAL = r"([A-Z][a-z0-9]*)+"
UPPER = r"[A-Z][A-Z0-9]*(_[A-Z0-9]+)*"
UNITS = [
    "m", "s", "hz", "rad", "n", "kg", "v", "f", "j", "w", "ratio", "coefficient",
    "m_per_s", "rad_per_s", "n_per_m", "n_s_per_m", "n_per_v", "kg_m2", "v_per_s", "v_per_m", "v_s_per_m",
    "n_m_per_rad", "pa", "per_pa", "m_per_v",
    "si", "as_labelled",  # unit is data: a field beside it tells
]
UNIT = re.compile("_(" + "|".join(UNITS) + ")$")
# Calls that return the resource itself.
STANDARD_CALL = re.compile(r"(Get|Find|Cancel|Sample|Stream)[A-Z]")


class Lint:
    """Gathers the faults of one file."""

    def __init__(self, file):
        self.file = file
        self.faults = []
        self.documented = {tuple(place.path) for place in file.source_code_info.location
                           if place.leading_comments.strip()}

    def add(self, name, fault):
        self.faults.append(f"{self.file.name}: {name}: {fault}")

    def element(self, path, name, pattern):
        if path not in self.documented:
            self.add(name, "has no comment")
        if not re.fullmatch(pattern, name.rsplit(".", 1)[-1]):
            self.add(name, "name has the wrong case")

    def enum(self, enum, path, scope):
        self.element(path, scope + enum.name, PASCAL)
        prefix = re.sub(r"(?<!^)(?=[A-Z])", "_", enum.name).upper() + "_"
        for i, value in enumerate(enum.value):
            self.element(path + (2, i), scope + value.name, UPPER)
            if not value.name.startswith(prefix):
                self.add(value.name, f"must start with {prefix}")
        if enum.value[0].name != prefix + "UNSPECIFIED":
            self.add(enum.name, f"value 0 must be {prefix}UNSPECIFIED")

    def field(self, field, path, scope):
        name = scope + field.name
        self.element(path, name, SNAKE)
        if field.type in UNSIGNED:
            self.add(name, "unsigned type; use int32 or int64")
        if field.type == FIELD.TYPE_FLOAT:
            self.add(name, "float; use double")
        if field.type == FIELD.TYPE_DOUBLE and not UNIT.search(field.name):
            self.add(name, "floating-point field without a unit at its end")
        if field.type_name == ".google.protobuf.Any":
            self.add(name, "packed Any; name the message")

    def message(self, message, path, scope):
        if message.options.map_entry:
            return
        self.element(path, scope + message.name, PASCAL)
        inner = scope + message.name + "."
        for i, field in enumerate(message.field):
            self.field(field, path + (2, i), inner)
        for i, nested in enumerate(message.nested_type):
            self.message(nested, path + (3, i), inner)
        for i, enum in enumerate(message.enum_type):
            self.enum(enum, path + (4, i), inner)

    def service(self, service, path):
        self.element(path, service.name, PASCAL)
        if not service.name.endswith("Service"):
            self.add(service.name, "must end in Service")
        for i, call in enumerate(service.method):
            name = f"{service.name}.{call.name}"
            self.element(path + (2, i), name, PASCAL)
            if not call.input_type.endswith(f".{call.name}Request"):
                self.add(name, f"request is not {call.name}Request")
            if not call.output_type.endswith(f".{call.name}Response") and not STANDARD_CALL.match(call.name):
                self.add(name, f"response is not {call.name}Response")

    def run(self):
        file = self.file
        if not re.fullmatch(r"v[1-9][0-9]*", file.package.rsplit(".", 1)[-1]):
            self.add(file.package, "package has no version")
        if not file.name.startswith(file.package.replace(".", "/") + "/"):
            self.add(file.package, "folder does not match the package")
        for i, message in enumerate(file.message_type):
            self.message(message, (4, i), "")
        for i, enum in enumerate(file.enum_type):
            self.enum(enum, (5, i), "")
        for i, service in enumerate(file.service):
            self.service(service, (6, i))
        return self.faults


def check(root):
    folder = root / "proto"
    # proto/google is a copy of public messages, whose names are not ours to choose.
    sources = [str(path.relative_to("proto")) for path in checkout.files(root, ".proto")
               if path.parts[:2] == ("proto", "gaitshelf")]
    if not sources:
        return ["no protobuf files found"]
    with tempfile.TemporaryDirectory() as scratch:
        output = pathlib.Path(scratch) / "set"
        result = subprocess.run(
            ["protoc", f"--proto_path={folder}", "--include_source_info",
             f"--descriptor_set_out={output}", *sources], capture_output=True, text=True, check=False)
        if result.returncode != 0:
            return result.stderr.strip().splitlines()
        files = descriptor_pb2.FileDescriptorSet.FromString(output.read_bytes()).file
    return [fault for file in files for fault in Lint(file).run()]


if __name__ == "__main__":
    checkout.run("proto_lint", check)
