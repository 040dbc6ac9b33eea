"""Print what the methods make of the family of worlds, as one table."""

from __future__ import annotations

import argparse
import sys
import time
from importlib import import_module

from benchmarks.worlds import TOLD

PARTS = (
    "boats",
    "along",
    "responses",
    "clocks",
    "lines",
    "seasons",
    "passes",
    "tackle",
    "strangers",
    "motors",
)


def main(words: list[str]) -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.worlds")
    parser.add_argument("parts", nargs="*", metavar="PART", help=", ".join(PARTS))
    parser.add_argument("--seeds", nargs=2, type=int, default=(TOLD, 20), metavar="NUMBER")
    asked = parser.parse_args(words)
    first, count = asked.seeds
    print(f"| part | world | figure ({count} seeds from {first}) | wanted |\n|---|---|---|---|")
    for part in asked.parts or PARTS:
        begun = time.process_time()
        for row in import_module(f"benchmarks.worlds.{part}").rows(range(first, first + count)):
            print("| " + " | ".join(row) + " |", flush=True)
        print(f"{part}: {time.process_time() - begun:.0f} s of processor", file=sys.stderr)


if __name__ == "__main__":
    main(sys.argv[1:])
