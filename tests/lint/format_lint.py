#!/usr/bin/python3
"""Checks that every C++ file is formatted as .clang-format says. deploy/format puts it right."""
import re
import subprocess

import checkout

TOOL = "clang-format-14"  # the output differs from version to version


def check(root):
    paths = [str(path) for path in checkout.files(root, ".h", ".cc")]
    if not paths:
        return ["no C++ files found"]
    result = subprocess.run([TOOL, "--dry-run", "-Werror", "--style=file", *paths],
                            cwd=root, capture_output=True, text=True, check=False)
    # The first place of each file is enough: deploy/format mends them all.
    places = {}
    for path, line in re.findall(r"^(\S+?):(\d+):\d+: error: ", result.stderr, re.MULTILINE):
        places.setdefault(path, line)
    faults = [f"{path}:{line}: not formatted; run deploy/format" for path, line in places.items()]
    if result.returncode != 0 and not faults:
        faults = [result.stderr.strip() or f"{TOOL} failed"]
    return faults


if __name__ == "__main__":
    checkout.run("format_lint", check)
