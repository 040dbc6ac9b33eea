"""Run the benchmarks named on the command line, or all, and print one table."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

from benchmarks.rows import Row


def main(names: list[str]) -> int:
    known = sorted(m.name for m in iter_modules([str(Path(__file__).parent)]) if m.name[0] != "_")
    if unknown := set(names) - set(known):
        print(f"no benchmark {', '.join(sorted(unknown))}; there are {', '.join(known)}")
        return 2
    rows: list[Row] = []
    for name in names or known:
        run = getattr(import_module(f"benchmarks.{name}"), "run", None)
        if run is not None:
            print(f"{name} …", file=sys.stderr, flush=True)
            rows += [Row(*row) for row in run()]
    print(table(rows))
    return 0


def table(rows: Iterable[Row]) -> str:
    lines = ["| work | reference | ours s | reference s | ratio |", "|---|---|---|---|---|"]
    lines += [
        f"| {work} | {reference} | {ours:.3g} | {theirs:.3g} | {ratio:.3g} |"
        for work, reference, ours, theirs, ratio in rows
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
