"""The documentation, run: what it shows is what the commands print."""

from __future__ import annotations

import shutil
from pathlib import Path

import pages
import pytest

# its demo runs once, with the tests of what it leaves
ELSEWHERE = {"start": "test_demo_run.py"}
# their commands search the same ground, which one process does once
ONE_GROUND = ("after_the_trip", "before_the_day", "in_winter", "troubleshooting")
PAGES = [page for page in pages.pages() if page.stem not in ELSEWHERE]
ONE_BY_ONE = [[page] for page in PAGES if page.stem not in ONE_GROUND]


@pytest.mark.parametrize(
    "several",
    [[page for page in PAGES if page.stem in ONE_GROUND], *ONE_BY_ONE],
    ids=lambda several: "-".join(page.stem for page in several),
)
def test_pages_show_what_their_commands_print(several: list[Path], registry_file):
    for page in several:
        pages.check(page, registry_file)


def test_the_readme_runs(tmp_path, monkeypatch, capsys):
    shutil.copytree(pages.DEMO, tmp_path / "demo" / "area", ignore=shutil.ignore_patterns("*.py"))
    monkeypatch.chdir(tmp_path)
    text = (pages.ROOT / "README.md").read_text("utf-8")
    (block,) = [block for kind, block in pages.BLOCK.findall(text) if kind == "python"]
    assert len([line for line in block.splitlines() if line]) <= 8
    exec(compile(block, "README.md", "exec"), {})
    assert "rod_hours" in capsys.readouterr().out


def test_a_page_that_is_not_true_is_found(tmp_path, registry_file):
    page = tmp_path / "untrue.md"
    page.write_text("```console\n$ seabed --version\nseabed-layers 0.0\n```\n", encoding="utf-8")
    with pytest.raises(AssertionError, match="printed"):
        pages.check(page, registry_file)


def test_a_file_that_a_page_shows_is_written(tmp_path, registry_file):
    page = tmp_path / "file.md"
    shown = "```{code-block} text\n:caption: note.txt\n\nslack\n```\n\n"
    shown += "```console\n$ cat note.txt\n%s\n```\n"
    page.write_text(shown % "slack", encoding="utf-8")
    pages.check(page, registry_file)
    page.write_text(shown % "ebb", encoding="utf-8")
    with pytest.raises(AssertionError, match="printed"):
        pages.check(page, registry_file)


def test_dots_stand_for_any_lines_and_nothing_else_does():
    assert pages.same("a\n...\nd\n", "a\nb\nc\nd")
    assert pages.same("a\n...\n", "a\nb")
    assert not pages.same("a\n...\nd\n", "a\nb\nc")
    assert not pages.same("a.c\n", "abc")
