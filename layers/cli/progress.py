"""Progress on standard error: a bar for people, nothing when piped."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from layers.jobs.progress import Progress, Step, ignored

__all__ = ["Step", "progress", "progress_bar"]


@contextmanager
def progress_bar(*, quiet: bool = False) -> Iterator[Progress]:
    """Show how far along a job is; nothing if `quiet`, or if standard error is no terminal."""
    if quiet or not sys.stderr.isatty():
        yield ignored
        return
    from rich import progress as rich
    from rich.console import Console

    columns = (
        rich.BarColumn(),
        rich.TextColumn("{task.description}", markup=False),
        rich.TimeElapsedColumn(),
    )
    with rich.Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=1.0)
        yield lambda words, share: bar.update(task, description=words, completed=share)


@contextmanager
def progress(steps: int, *, quiet: bool = False) -> Iterator[Step]:
    """Show how far along a piece of work of so many steps is.

    Parameters
    ----------
    steps : int
    quiet : bool
        Show nothing; so too where standard error is no terminal.
    """
    if quiet or not sys.stderr.isatty():
        yield lambda doing: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (BarColumn(), TextColumn("{task.description}", markup=False), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=steps)
        done = -1

        def step(doing: str) -> None:
            nonlocal done
            done += 1
            bar.update(task, description=doing, completed=min(done, steps))

        yield step
