"""The documentation, run: what it shows is what the commands print."""

from __future__ import annotations

from pathlib import Path

import pages
import pytest


@pytest.mark.parametrize("page", pages.pages(), ids=lambda page: page.stem)
def test_a_page_shows_what_its_commands_print(page: Path):
    pages.check(page)


def test_a_page_that_is_not_true_is_found(tmp_path):
    page = tmp_path / "untrue.md"
    page.write_text("```console\n$ seabed --version\nseabed-layers 0.0\n```\n", encoding="utf-8")
    with pytest.raises(AssertionError, match="printed"):
        pages.check(page)


def test_dots_stand_for_any_lines_and_nothing_else_does():
    assert pages.same("a\n...\nd\n", "a\nb\nc\nd")
    assert pages.same("a\n...\n", "a\nb")
    assert not pages.same("a\n...\nd\n", "a\nb\nc")
    assert not pages.same("a.c\n", "abc")
