#!/usr/bin/python3
"""Checks that every C++ source has its test: solver/leg/x.cc has tests/solver/leg/x_test.cc.

A file named *_main.cc only reads its command line and calls what has tests; the end-to-end tests
run it. Further exceptions stand in EXCEPTIONS, each with its reason.
"""
import checkout

EXCEPTIONS = {
}


def check(root):
    sources = checkout.files(root, ".cc")
    present = {str(path) for path in sources}
    faults = []
    for path in sources:
        is_checked = path.parts[0] in ("solver", "service", "clients")
        if not is_checked or path.name.endswith("_main.cc") or path.name == "main.cc":
            continue
        twin = f"tests/{path.with_suffix('')}_test.cc"
        if twin not in present and str(path) not in EXCEPTIONS:
            faults.append(f"{path}: has no test {twin}")
    faults += [f"{path}: is excepted in twin_lint.py but does not exist"
               for path in EXCEPTIONS if path not in present]
    return faults


if __name__ == "__main__":
    checkout.run("twin_lint", check)
