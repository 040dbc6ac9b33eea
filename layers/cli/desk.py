"""The command that opens the desk, which is no job."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def desk(
    folder: Annotated[
        Path | None,
        typer.Argument(
            metavar="FOLDER",
            help="A water's folder, or one that holds several.  [this one if it is a water; else "
            "'Seabed waters' at home]",
        ),
    ] = None,
    *,
    port: Annotated[
        int | None, typer.Option(metavar="N", help="Port of 127.0.0.1.  [a free one]")
    ] = None,
    browser: Annotated[bool, typer.Option(help="Open the page in the browser.")] = True,
    stop: Annotated[bool, typer.Option("--stop", help="Close the desk of that folder.")] = False,
    shortcut: Annotated[
        bool, typer.Option("--shortcut", help="Put an icon on the desktop and in the menu.")
    ] = False,
) -> None:
    """Open the page that does the whole job without typed commands.

    It listens on this machine alone, and prints its address with a key.
    """
    from layers.desk import serving
    from layers.desk.shortcut import make_shortcut

    place = folder or serving.default_folder()
    if shortcut:
        for path in make_shortcut(place):
            print(f"Written: {path}")
    elif stop:
        print("Closed." if serving.stop_desk(place) else f"No desk of {place} is open.")
    else:
        serving.open_desk(place, port=port, browser=browser)
