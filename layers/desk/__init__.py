"""The desk: a page on the skipper's own machine that does the whole job without typed commands.

A thin server over `layers.jobs`, for one person, on 127.0.0.1.  Its files are those of the command
line: a folder per water, with its area file, grids, tracks, catches, logbook and results.

The server imports nothing heavy.  `worker` runs the jobs in a process of its own, one per water.
"""

from __future__ import annotations

__all__: list[str] = []
