"""The benches that tests/bench/run runs, with a setting for each that bounds its time.

A setting takes one to three minutes at most on two quiet cores, its limit about twice that; all limits together
stay below what the whole run may take.
"""
from __future__ import annotations

from dataclasses import dataclass

BIN = ".build/release/bin"
# Seconds that the whole run may take, without the build.
MOST_S = 25 * 60


@dataclass(frozen=True)
class Bench:
    """One program with its setting. Commands are words from the top of the checkout, without --json."""

    name: str
    targets: tuple[str, ...]
    command: tuple[str, ...]
    quick: tuple[str, ...]  # of a smoke run; empty when there is none
    limit_s: int
    quick_limit_s: int = 40


def program(name: str, words: str, quick_words: str | None, limit_s: int, bench: str = "", **more) -> Bench:
    """Returns the bench of a program that is a target of its own."""
    command = (f"{BIN}/{name}",)
    quick = () if quick_words is None else command + tuple(quick_words.split())
    return Bench(bench or name, (name,), command + tuple(words.split()), quick, limit_s, **more)


def script(name: str, words: str, quick_words: str, limit_s: int, **more) -> Bench:
    """Returns the bench of a script, which runs server, worker and the Python package of the build."""
    command = (f"tests/bench/{name}.py",)
    return Bench(name, ("gaitshelfd", "gaitshelf-worker", "gaitshelf_python"), command + tuple(words.split()),
                 command + tuple(quick_words.split()), limit_s, **more)


BENCHES = (
    program("demo_sweep", "--robot weevil", "--robot weevil-lumped --parts advance", 60, bench="demo"),
    script("misses", "--robot weevil --frequency 12", "--robot weevil --frequency 12 --orders 2", 130,
           quick_limit_s=60),
    program("reliability", "--orders 120 --rng 0", "--orders 6 --rng 0", 200),
    program("planner", "--parts growth --repeats 3", "--parts growth --repeats 1 --most-knots 80", 70, bench="growth"),
    program("planner", "--parts shares", "--parts shares", 40, bench="shares"),
    program("planner", "--parts versus --frequency 12 --only l-bfgs",
            "--parts versus --frequency 12 --only l-bfgs --most-ratio 5", 80, bench="versus"),
    program("leg_bench", "", "", 20, bench="leg", quick_limit_s=20),
    program("pose", "", "", 40),
    program("trial_analysis", "--minutes 10", "--minutes 1", 40),
    program("calibration", "--robots 50", "--robots 2", 160),
    program("playback", "--controllers 32 --rate_hz 1000 --seconds 60",
            "--controllers 32 --rate_hz 1000 --seconds 5", 100),
    program("service", "--parts hits --rounds 4", "--parts hits --rounds 1 --seconds 0.3", 90, bench="hits"),
    program("service", "--parts size --rounds 3 --calls 4 --counts 1000,100000",
            "--parts size --rounds 1 --calls 4 --counts 100,1000 --seconds 0.3", 150, bench="size"),
    program("service", "--parts sweep", None, 240, bench="sweep"),
    script("overload", "--calls 2000", "--calls 200", 80),
)


def choose(names: list[str]) -> list[Bench]:
    """Returns the benches of these names in the order of the list; raises ValueError for another name."""
    known = [bench.name for bench in BENCHES]
    for name in names:
        if name not in known:
            raise ValueError(f"--only has '{name}'; use {', '.join(known)}")
    return [bench for bench in BENCHES if bench.name in names]
