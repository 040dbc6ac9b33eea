"""A command that refuses: its message, and that it wrote nothing."""

from __future__ import annotations

import pytest

from layers.cli.main import main


def said_by(capsys, *arguments):
    """Run the command here; give its exit code and its message on stderr."""
    with pytest.raises(SystemExit) as ended:
        main([str(argument) for argument in arguments])
    return ended.value.code, capsys.readouterr().err


def refused(capsys, tmp_path, *arguments):
    """What the one message says; nothing may have been written to `out`."""
    code, said = said_by(capsys, *arguments, "--out", tmp_path / "out")
    assert code == 2, said
    lines = [line for line in said.splitlines() if line.strip()]
    assert len(lines) == 1, said
    assert lines[0].startswith("seabed: ")
    assert "Traceback" not in said
    left = [path for path in tmp_path.rglob("*") if "out" in path.parts or ".writing" in path.name]
    assert not [path for path in left if path.is_file()]
    return lines[0]
