"""Run what the documentation shows, and compare; or write what it prints back into the pages.

Blocks marked ``console`` hold commands after a dollar sign, and what they print; a line of three
dots stands for any lines.  Blocks marked ``python`` are run too, and a code block with a caption is
written to the file of that name.  The blocks of a page share one folder, which begins as a copy of
the demo area; that of ``own_water.md`` holds a published survey alone.

``python tests/docs/pages.py docs/*.md`` writes what is printed into the pages.
"""

# ruff: noqa: T201 (a tool that prints)

from __future__ import annotations

import contextlib
import importlib.util
import io
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
DEMO = ROOT / "demo_area"
SURVEY = ("s100py", "2.0.1", "tests/s102/F00788_SR_8m.bag")
BLOCK = re.compile(
    r"^```(console|python|\{code-block\} \w+\n:caption: \S+\n)\n(.*?)^```$",
    re.MULTILINE | re.DOTALL,
)
Fetch = Callable[[str, str, str], Path]


@dataclass(frozen=True)
class Step:
    """A command of a page and what the page says that it prints."""

    command: str
    shown: str


def pages() -> list[Path]:
    """Every page with something to run, in order of name."""
    return [page for page in sorted(DOCS.rglob("*.md")) if BLOCK.search(page.read_text("utf-8"))]


def steps_of(block: str) -> Iterator[Step]:
    """Split a console block at its dollar signs."""
    for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
        command, _, shown = part.partition("\n")
        while command.endswith("\\"):
            more, _, shown = shown.partition("\n")
            command = f"{command[:-1].rstrip()} {more.strip()}"
        yield Step(command, shown)


def run(command: str) -> str:
    """Give what a command prints, both streams together."""
    words = shlex.split(command)
    if words[0] != "seabed" or "|" in words or "2>" in command:
        done = subprocess.run(
            command, shell=True, capture_output=True, text=True, check=False, encoding="utf-8"
        )
        return done.stdout + done.stderr
    from layers.cli.main import main

    printed = io.StringIO()
    with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(printed):
        try:
            main(words[1:])
        except SystemExit as left:
            if left.code not in {0, 2, None}:
                raise AssertionError(f"{command}: exit code {left.code}") from left
    return printed.getvalue()


def same(shown: str, printed: str) -> bool:
    """Compare line by line, dots standing for any lines, ends of lines left aside."""
    lines = [re.escape(line.rstrip()) for line in shown.strip("\n").split("\n")]
    pattern = "\n".join("(?:.*\n)*.*" if line == r"\.\.\." else line for line in lines)
    found = "\n".join(line.rstrip() for line in printed.strip("\n").split("\n"))
    return re.fullmatch(pattern, found) is not None


@cache
def _folder() -> tempfile.TemporaryDirectory[str]:
    """Make the folder in which the pages on the demo area take turns."""
    return tempfile.TemporaryDirectory()


def _begin_with(files: list[Path], folder: Path) -> None:
    """Leave copies of `files` in a folder and nothing else; unchanged copies stay.

    A plan does not search the ground again where grid and chart are the files of the last plan.
    """
    kept = {file.name: file.stat() for file in files}
    for there in folder.iterdir():
        if there.is_dir():
            shutil.rmtree(there)
        elif there.name not in kept or there.stat().st_mtime != kept[there.name].st_mtime:
            there.unlink()
    for file in files:
        if not (folder / file.name).exists():
            shutil.copy2(file, folder)


@contextlib.contextmanager
def folder_of(page: Path, fetch: Fetch) -> Iterator[None]:
    """Work in a folder with the files that a page begins with."""
    before = Path.cwd()
    demo = [
        file for file in DEMO.iterdir()
        if file.is_file() and file.suffix not in {".py", ".md"} and file.name != "truth.json"
    ]  # fmt: skip
    folder = Path(_folder().name)
    _begin_with([fetch(*SURVEY)] if page.stem == "own_water" else demo, folder)
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)


def act(kind: str, block: str, page: Path, names: dict[str, object]) -> None:
    """Run a block of Python, or write the file that a block shows."""
    if kind == "python":
        exec(compile(block, str(page), "exec"), names)
    else:
        Path(kind.rsplit(maxsplit=1)[-1]).write_text(block, encoding="utf-8")


def check(page: Path, fetch: Fetch) -> None:
    """Run a page in a folder of its own; fail at the first block that does not do what it shows."""
    with folder_of(page, fetch):
        check_here(page, {})


def check_here(page: Path, printed_before: Mapping[str, str]) -> None:
    """Run a page in this folder, but for commands that ran here before."""
    names: dict[str, object] = {}
    for kind, block in BLOCK.findall(page.read_text("utf-8")):
        if kind != "console":
            act(kind, block, page, names)
            continue
        for step in steps_of(block):
            printed = printed_before.get(step.command) or run(step.command)
            assert same(step.shown, printed), (
                f"{page.name}: $ {step.command}\nshown:\n{step.shown}\nprinted:\n{printed}"
            )


def rewrite(page: Path, fetch: Fetch) -> bool:
    """Put what the commands print into the page where it differs; say whether any did."""
    text = page.read_text("utf-8")

    def fresh(match: re.Match[str]) -> str:
        if match.group(1) != "console":
            if match.group(1) != "python":
                act(match.group(1), match.group(2), page, {})
            return match.group(0)
        parts = []
        for step, part in zip(
            steps_of(match.group(2)),
            re.split(r"^\$ ", match.group(2), flags=re.MULTILINE)[1:],
            strict=True,
        ):
            printed = run(step.command)
            lines = [line.rstrip() for line in printed.strip("\n").split("\n")]
            new = part
            if not same(step.shown, printed):
                head = part[: len(part) - len(step.shown)] if step.shown else part
                new = head + "".join(f"{line}\n" for line in lines if line or len(lines) > 1)
            parts.append(f"$ {new}")
        return f"```console\n{''.join(parts)}```"

    with folder_of(page, fetch):
        rewritten = BLOCK.sub(fresh, text)
    if rewritten != text:
        page.write_text(rewritten, encoding="utf-8")
    return rewritten != text


def from_registry(name: str, version: str, member: str) -> Path:
    """Fetch a file as the tests do, outside of them."""
    sys.path.insert(0, str(ROOT / "tests"))  # of what conftest imports
    spec = importlib.util.spec_from_file_location("shared", ROOT / "tests" / "conftest.py")
    assert spec and spec.loader
    shared = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(shared)
    return Path(shared.from_registry(name, version, member))


if __name__ == "__main__":
    for name in sys.argv[1:] or [str(page) for page in pages()]:
        print(name, "written" if rewrite(Path(name).resolve(), from_registry) else "true as it is")
