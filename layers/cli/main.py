"""The command ``seabed``: it starts before anything is loaded, and says how each run ends."""

from __future__ import annotations

import os
import sys
import warnings
from collections.abc import Sequence

from layers.cli import BUG, STOPPED, WRONG


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command and exit; by default with the arguments of the process."""
    # its own threads wait by spinning, which takes the processor from ours
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # our own messages cover it; a thread that restores the filters could let it through
    warnings.filterwarnings("ignore", message="Dataset has no geotransform")
    if arguments is None and "scout" not in sys.argv:
        # xarray loads it, if it is installed, to ask of each array whether it is one of its own:
        # half a second, and none is but where a coast is scouted in chunks
        sys.modules.setdefault("dask", None)  # type: ignore[arg-type]
    try:
        from layers.cli.app import run

        run(arguments)
    except (KeyboardInterrupt, SystemExit) as error:
        # the library of options ends on an interrupt without a word
        if isinstance(error, SystemExit) and error.code != STOPPED:
            raise
        _end("seabed: stopped; no file was left half-written.", STOPPED, error)
    except Exception as error:  # noqa: BLE001 (the edge of the command)
        from layers.cli.bug_report import words_of_bug
        from seabed.files import no_room

        if isinstance(error, MemoryError):
            words = "there is not enough memory. Close other programs, or give a smaller --box"
            _end(f"seabed: {words}.", WRONG, error)
        if room := no_room(error):
            _end(f"seabed: can't write: {room}. Make room and run again.", WRONG, error)
        _end(words_of_bug(error, sys.argv[1:] if arguments is None else arguments), BUG, error)


def _end(words: str, code: int, error: BaseException) -> None:
    print(words, file=sys.stderr)
    raise SystemExit(code) from error


if __name__ == "__main__":
    main()
