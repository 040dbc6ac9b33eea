"""What one system alone understands is not used: the linter bans calls, this looks at words."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from coarse_demo import coarse_demo

ROOT = Path(__file__).parents[2]
FILES = sorted(path for room in ("seabed", "layers") for path in (ROOT / room).rglob("*.py"))
UNPADDED = re.compile(r"%[-_0^#][aAbBdeHIjmMpSUwWyY]\b")
"""Directives of strftime that the C library of Windows does not know (glibc's own flags)."""
PLACES = re.compile(r"/(tmp|dev|proc|etc)\b")


def words_of(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Texts of a module but for docstrings, with their lines."""
    docs = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs:
            yield node.lineno, node.value


def wrong_words(source: str) -> list[str]:
    if not (UNPADDED.search(source) or PLACES.search(source)):
        return []  # most are; to parse them all takes seconds
    found = []
    for line, text in words_of(ast.parse(source)):
        if UNPADDED.search(text):
            found.append(f"line {line}: {text!r} is strftime of one system")
        if PLACES.match(text):
            found.append(f"line {line}: {text!r} is a place of one system")
    return found


def test_no_words_of_one_system():
    assert len(FILES) > 400
    wrong = {path: wrong_words(path.read_text(encoding="utf-8")) for path in FILES}
    assert {path: words for path, words in wrong.items() if words} == {}


@pytest.mark.parametrize(
    ("source", "wrong"),
    [
        ('f"{when:%-d %B}"', True),
        ('when.strftime("%-I:%M")', True),
        ('open("/tmp/x")', True),
        ('"""Docs may name /tmp and %-d."""', False),
        ('f"{when:%d %B}"', False),
        ('"100 %-wise"', False),
        ('"a /tmp inside"', False),
    ],
)
def test_words_of_one_system_are_seen(source, wrong):
    assert bool(wrong_words(source)) is wrong


BANNED = ["import resource", "import fcntl", "import os\nos.fork()", "import os\nos.getuid()",
          "import signal\nsignal.SIGKILL", "from os import mkfifo"]  # fmt: skip


@pytest.mark.parametrize("source", BANNED)
def test_the_linter_bans_calls_of_one_system(source):
    pytest.importorskip("ruff", reason="a tool of the dev group, which the test group lacks")
    done = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "--select", "TID251", "--output-format", "concise",
         "--stdin-filename", "seabed/invented.py", "-"],
        input=source, cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "TID251" in done.stdout, done.stdout + done.stderr


LIKE_WINDOWS = """
import sys, os, signal
for name in ("resource", "fcntl", "pwd", "grp", "termios"):
    sys.modules[name] = None
for name in ("fork", "getuid", "geteuid", "mkfifo", "killpg", "setsid", "statvfs"):
    if hasattr(os, name):
        delattr(os, name)
for name in ("SIGKILL", "SIGHUP", "SIGALRM", "SIGUSR1"):
    if hasattr(signal, name):
        delattr(signal, name)
"""
"""Takes away what Windows does not have; loaded before all else."""


def test_a_grid_is_scouted_without_what_windows_lacks(tmp_path):
    (tmp_path / "sitecustomize.py").write_text(LIKE_WINDOWS, encoding="utf-8")
    code = (
        "from layers.cli.main import main\n"
        f"main(['scout', {str(coarse_demo(4) / 'sound.tif')!r}, '--box',"
        " '-33.40,46.19,-33.38,46.20', '--out', 'out'])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(tmp_path), str(ROOT)])},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out" / "map.html").exists()
