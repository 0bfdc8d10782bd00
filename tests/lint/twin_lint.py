#!/usr/bin/python3
"""Checks that every C++ source has its test: solver/leg/x.cc has tests/solver/leg/x_test.cc.

A test that covers further sources, because they are seen only together, says so in lines of its own:
"Covers solver/plan/rounds.cc". A file main.cc or *_main.cc only reads its command line and calls
what has tests; the end-to-end tests run it.
"""
import re

import checkout

ROOMS = ("solver", "service", "clients")
COVERS = re.compile(r"^(?://|#|)\s*Covers (\S+\.cc)\b", re.MULTILINE)


def check(root):
    sources = [str(path) for path in checkout.files(root, ".cc") if path.parts[0] in ROOMS]
    tests = [path for path in checkout.files(root, ".cc", ".py", ".sh") if path.parts[0] == "tests"]
    # The self-test of this lint holds planted lines.
    tests = [path for path in tests if path.parts[:2] != ("tests", "lint")]
    covered = set()
    faults = []
    for path in tests:
        covered.add(str(path))
        for source in COVERS.findall((root / path).read_text()):
            covered.add(source)
            if source not in sources:
                faults.append(f"{path}: covers {source}, which does not exist")
    for source in sources:
        twin = f"tests/{source.removesuffix('.cc')}_test.cc"
        is_main = source.endswith(("/main.cc", "_main.cc"))
        if not is_main and source not in covered and twin not in covered:
            faults.append(f"{source}: has no test {twin}")
    return faults


if __name__ == "__main__":
    checkout.run("twin_lint", check)
