"""Finds the verb, runs it, and ends in the exit codes of the program."""
from __future__ import annotations

import argparse
import json
import signal
import sys
from typing import Callable

import gaitshelf

from ..errors import GaitshelfError, InvalidRequest, NotFound
from . import gait_map, plot, sweep

# The program's own codes; README.md lists them.
EXIT_ERROR, EXIT_USAGE, EXIT_NOT_FOUND, EXIT_INTERRUPTED = 1, 2, 4, 130

_CODES = {InvalidRequest: EXIT_USAGE, NotFound: EXIT_NOT_FOUND}
_VERBS: dict[str, Callable[[gaitshelf.Client, argparse.Namespace], int]] = {
    "plot": plot.run, "sweep": sweep.run, "map": gait_map.run}


def _numbers(text: str) -> list[float]:
    return [float(number) for number in text.split(",")]


def _names(text: str) -> list[str]:
    return [name for name in text.split(",") if name]


def _read(words: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="gaitshelf", allow_abbrev=False)
    parser.add_argument("verb", choices=sorted(_VERBS))
    parser.add_argument("names", nargs="*")
    parser.add_argument("--server", required=True)
    parser.add_argument("--identity")
    parser.add_argument("--robot", default="")
    parser.add_argument("--surface", type=_names, default=[])
    parser.add_argument("--frequency", type=_numbers, default=[], help="Hz")
    parser.add_argument("--advance", type=_numbers, default=[], help="m")
    parser.add_argument("--greatest-delay", type=float, default=0.0, help="s")
    parser.add_argument("--out", default="")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quiet", action="store_true")
    return parser.parse_intermixed_args(words)


def _describe(error: GaitshelfError, is_json: bool) -> str:
    """Returns an error as the program prints its own."""
    violations = getattr(error, "violations", ())
    # The message of a request with several faults repeats them; its first line says enough.
    message = str(error).splitlines()[0] if str(error) else error.code
    if is_json:
        found = [{"field": v.field, "description": v.description} for v in violations]
        return json.dumps({"error": {"code": error.code, "message": message,
                                     "violations": found}}, indent=1)
    return "\n".join([f"gaitshelf: {message}"] +
                     [f"  {v.field}: {v.description}" if v.field else f"  {v.description}"
                      for v in violations])


def main(words: list[str]) -> int:
    """Runs one verb with the words that the program hands on; returns the exit code."""
    arguments = _read(words)
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        with gaitshelf.connect(arguments.server, arguments.identity) as library:
            return _VERBS[arguments.verb](library, arguments)
    except GaitshelfError as error:
        print(_describe(error, arguments.json), file=sys.stderr)
        return _CODES.get(type(error), EXIT_ERROR)
    except OSError as error:
        print(f"gaitshelf: {error}", file=sys.stderr)
        return EXIT_ERROR
    except KeyboardInterrupt:
        print("\ngaitshelf: interrupted; jobs go on, the same command joins them again",
              file=sys.stderr)
        return EXIT_INTERRUPTED
