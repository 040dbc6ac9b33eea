"""Progress on standard error: a bar for people, nothing when piped."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from layers.jobs.progress import Progress, ignored


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
