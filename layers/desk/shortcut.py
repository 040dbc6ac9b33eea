"""An icon that opens the desk: on Linux, Windows and macOS."""

from __future__ import annotations

import os
import shlex
import stat
import subprocess
import sys
from pathlib import Path
from typing import Final

from seabed.errors import SeabedError
from seabed.files import write_text

_NAME: Final = "Seabed layers"


def make_shortcut(
    folder: Path, *, system: str = sys.platform, home: Path | None = None
) -> list[Path]:
    """Write icons that open the desk of a folder on a double-click; give their files.

    system: ``"linux"``, ``"win32"`` or ``"darwin"``, as `sys.platform`.
    home: instead of the user's own.
    """
    home = home or Path.home()
    command = [sys.executable, "-P", "-m", "layers.cli.main", "desk", str(folder.absolute())]
    if system == "win32":
        return [_windows(home / "Desktop" / f"{_NAME}.lnk", command)]
    if system == "darwin":
        script = home / "Desktop" / f"{_NAME}.command"
        return [_runnable(script, f"#!/bin/sh\nexec {shlex.join(command)}\n")]
    entry = _entry(command)
    data = Path(os.environ.get("XDG_DATA_HOME") or home / ".local" / "share")
    places = [data / "applications" / "seabed-layers.desktop"]
    if (home / "Desktop").is_dir():
        places.append(home / "Desktop" / "seabed-layers.desktop")
    return [_runnable(place, entry) for place in places]


def _entry(command: list[str]) -> str:
    """Write a desktop entry (freedesktop.org, Desktop Entry Specification 1.5)."""
    words = " ".join(_quoted(word) for word in command)
    return (
        "[Desktop Entry]\nType=Application\nVersion=1.5\n"
        f"Name={_NAME}\nComment=Plan drifts and look at trips, on this machine alone\n"
        f"Exec={words}\nTerminal=true\nCategories=Science;Geography;\n"
    )


def _quoted(word: str) -> str:
    """Quote a word of an Exec line: first as a quoted argument, then as a string of the file."""
    for special in ("\\", '"', "`", "$"):
        word = word.replace(special, "\\" + special)
    return '"' + word.replace("\\", "\\\\").replace("%", "%%") + '"'


def _runnable(path: Path, text: str) -> Path:
    write_text(path, text, result=False)
    path.chmod(path.stat().st_mode | stat.S_IXUSR)
    return path


def _windows(path: Path, command: list[str]) -> Path:
    """Let the system's own shell write the link; the names come in through the environment."""
    script = (
        "$s = (New-Object -ComObject WScript.Shell).CreateShortcut($env:SEABED_LINK); "
        "$s.TargetPath = $env:SEABED_TARGET; $s.Arguments = $env:SEABED_ARGUMENTS; $s.Save()"
    )
    names = {
        "SEABED_LINK": str(path),
        "SEABED_TARGET": command[0],
        "SEABED_ARGUMENTS": subprocess.list2cmdline(command[1:]),
    }
    shell = ["powershell.exe", "-NoProfile", "-NonInteractive", "-Command", script]
    try:
        subprocess.run(shell, check=True, env=os.environ | names, capture_output=True)  # noqa: S603
    except (OSError, subprocess.CalledProcessError) as error:
        raise SeabedError("the shortcut can't be written", file=path) from error
    return path
