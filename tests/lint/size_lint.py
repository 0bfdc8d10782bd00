#!/usr/bin/python3
"""Checks that no file has grown too long to read: at most 450 lines (aim at 150)."""
import checkout

LIMIT = 450
SUFFIXES = (".h", ".cc", ".py", ".proto")


def check(root):
    faults = []
    for path in checkout.files(root, *SUFFIXES):
        count = len((root / path).read_text().splitlines())
        if count > LIMIT:
            faults.append(f"{path}: {count} lines; at most {LIMIT}: split it")
    return faults


if __name__ == "__main__":
    checkout.run("size_lint", check)
