"""The command line only translates: short functions, a small room, and help at once."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

ROOM = Path(__file__).parents[2] / "layers" / "cli"
MOST_LINES, MOST_IN_A_FUNCTION, MOST_SECONDS = 2500, 40, 0.4
FILES = {file: file.read_text(encoding="utf-8") for file in ROOM.rglob("*.py")}


def test_the_room_of_the_command_line_is_small():
    assert 500 < sum(len(text.splitlines()) for text in FILES.values()) < MOST_LINES


def test_no_function_of_a_command_is_long():
    functions = [
        (f"{file.name}: {node.name}", node.end_lineno - node.lineno + 1)
        for file, text in FILES.items()
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.FunctionDef)
    ]
    assert len(functions) > 50
    assert [where for where, lines in functions if lines > MOST_IN_A_FUNCTION] == []


def test_help_comes_at_once():
    """Seconds of processor, which a busy machine does not lengthen; the quickest of three."""

    def seconds() -> float:
        before = os.times()
        command = [sys.executable, "-m", "layers.cli.main", "--help"]
        subprocess.run(command, check=True, capture_output=True)
        after = os.times()
        return sum(after[2:4]) - sum(before[2:4])

    assert min(seconds() for _ in range(3)) < MOST_SECONDS
