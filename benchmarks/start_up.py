"""How soon the command answers, against Python itself starting up."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

from benchmarks.rows import Row


def _median(*command: str) -> float:
    taken = []
    for _ in range(9):
        start = time.perf_counter()
        subprocess.run([sys.executable, *command], capture_output=True, check=True)
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def run() -> list[Row]:
    """Median of nine processes each: ``seabed --help`` against importing typer alone."""
    bare = _median("-c", "import typer")
    ours = _median("-c", "from layers.cli.main import main; main(['--help'])")
    return [Row("seabed --help", "python importing typer", ours, bare, ours / bare)]
