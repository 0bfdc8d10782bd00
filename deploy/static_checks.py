"""Runs clang-tidy and cppcheck over C++ files. Called by deploy/check, which says how.

Nearly all of clang-tidy's time goes into the headers of Eigen, Ceres, gRPC and protobuf, so several files are checked
as one that includes them. Where they cannot be compiled together (two have helpers of one name), they are halved.

Usage: static_checks.py BUILD_FOLDER PATH...
"""
from __future__ import annotations

import concurrent.futures
import json
import os
import re
import shlex
import subprocess
import sys
import time
from pathlib import Path
from typing import Iterable, Iterator

ROOT = Path(__file__).resolve().parents[1]
JOBS = int(os.environ.get("GAITSHELF_JOBS", "2"))
# More would save little time and take more memory.
JOINED_FILES = 16
# Clang's analyzer looks into included sources only where the name of the file that includes them begins so.
JOINED_NAME = "UnifiedSource"
FINDING = re.compile(r"^\S+?:\d+:\d+: (?:warning|error|fatal error): ")

# A source and the compiler's options for it.
Source = tuple[Path, tuple[str, ...]]


def compiler_options(command: str) -> tuple[str, ...]:
    """Returns the options of a compile command, without files and without warnings: deploy/build lint has these."""
    words = iter(shlex.split(command))
    options = []
    for word in words:
        if word in ("-o", "-c"):
            next(words)
        elif word.startswith("-") and not word.startswith("-W"):
            options += [word, next(words)] if word == "-isystem" else [word]
    return (*options, "-w")


def sources(database: list[dict], paths: Iterable[Path], root: Path) -> list[Source]:
    """Returns the sources among, under or belonging to the paths. A header belongs to the source of its name, or else
    to the first that includes it."""
    known = {Path(entry["file"]): compiler_options(entry["command"]) for entry in database}
    chosen = set()
    for path in paths:
        if path.suffix == ".h":
            line = f'#include "{path.relative_to(root)}"'
            twin = path.with_suffix(".cc")
            users = [twin] if twin in known else [file for file in sorted(known) if root / ".build" not in file.parents
                                                  and line in file.read_text(encoding="utf-8")]
            chosen.update(users[:1])
        else:
            chosen.update(file for file in known if file == path or path in file.parents)
    return [(file, known[file]) for file in sorted(chosen)]


def batches(found: list[Source]) -> list[list[Source]]:
    """Groups sources that are compiled alike, in the order of their names."""
    alike: dict[tuple[str, ...], list[Source]] = {}
    for source in found:
        alike.setdefault(source[1], []).append(source)
    return [group[i:i + JOINED_FILES] for group in alike.values() for i in range(0, len(group), JOINED_FILES)]


def findings(output: str) -> Iterator[str]:
    """Gives each finding in what a checker prints, with the lines that explain it."""
    block: list[str] = []
    for line in output.splitlines():
        if FINDING.match(line):
            if block:
                yield "\n".join(block)
            block = [line]
        elif block:
            block.append(line)
    if block:
        yield "\n".join(block)


def run_tidy(folder: Path, batch: list[Source], root: Path) -> list[str]:
    """Returns what clang-tidy finds in a batch. `folder`, where files are joined, lies below the root."""
    names = [str(file.relative_to(root)) for file, _ in batch]
    joined = folder / f"{JOINED_NAME}-{names[0].replace('/', '-')}-{len(batch)}.cc"
    joined.write_text("".join(f'#include "{name}"  // NOLINT(bugprone-suspicious-include)\n' for name in names),
                      encoding="utf-8")
    done = subprocess.run(["clang-tidy-14", "--quiet", str(joined), "--", *batch[0][1]], cwd=root, capture_output=True,
                          text=True, check=False)
    found = [text.replace(f"{root}/", "") for text in findings(done.stdout)]
    if len(batch) > 1 and any("[clang-diagnostic-error]" in text for text in found):
        half = len(batch) // 2
        return run_tidy(folder, batch[:half], root) + run_tidy(folder, batch[half:], root)
    if done.returncode != 0 and not found:
        found.append(f"clang-tidy of {', '.join(names)} ends with {done.returncode}: {done.stdout}{done.stderr}")
    return found


def run_cppcheck(found: list[Source], root: Path) -> list[str]:
    """Returns what cppcheck finds, but for lines below a comment "cppcheck-suppress NAME ; reason"."""
    done = subprocess.run(
        ["cppcheck", "--quiet", "--enable=warning,performance,portability", "--inline-suppr", "--std=c++20",
         "--language=c++", "--library=googletest", "-I", ".", "-j", str(JOBS), "--error-exitcode=1",
         "--template={file}:{line}:{column}: error: {message} [cppcheck {id}]\n{code}",
         *(str(file.relative_to(root)) for file, _ in found)],
        cwd=root, capture_output=True, text=True, check=False)
    told = list(findings(done.stderr))
    return told or ([f"cppcheck ends with {done.returncode}: {done.stdout}{done.stderr}"] if done.returncode else [])


def main(build: Path, paths: list[Path]) -> int:
    start = time.monotonic()
    found = sources(json.loads((build / "compile_commands.json").read_text(encoding="utf-8")), paths, ROOT)
    folder = build / "joined"
    folder.mkdir(exist_ok=True)
    # What is in a header is found in every batch that includes it.
    told: set[str] = set()

    def tell(texts: list[str]) -> None:
        for text in texts:
            if text not in told:
                told.add(text)
                print(text, flush=True)

    if found:
        tell(run_cppcheck(found, ROOT))
    with concurrent.futures.ThreadPoolExecutor(JOBS) as pool:
        for texts in pool.map(lambda batch: run_tidy(folder, batch, ROOT), batches(found)):
            tell(texts)
    print(f"deploy/check: {len(found)} sources, {len(told)} findings, {time.monotonic() - start:.0f} s")
    return 1 if told else 0


if __name__ == "__main__":
    sys.exit(main(ROOT / sys.argv[1], [Path(path) for path in sys.argv[2:]]))
