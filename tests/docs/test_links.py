"""Every link of a page leads to a file, and to a heading of it where it names one."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGES = [*sorted((ROOT / "docs").rglob("*.md")), *sorted(ROOT.glob("*.md"))]
LINK = re.compile(r"\]\(([^)\s]+)\)|^\[[^\]]+\]: (\S+)|src=\"([^\"]+)\"", re.MULTILINE)


def prose_of(page: Path) -> str:
    """A page without its code."""
    text = re.sub(r"^```.*?^```", "", page.read_text(encoding="utf-8"), flags=re.S | re.M)
    return re.sub(r"`[^`\n]*`", lambda code: code[0].replace("](", ""), text)


def anchors_of(page: Path) -> set[str]:
    """The anchors of a page's headings, as repositories and MyST make them."""
    headings = re.findall(r"^#{1,3} (.+)$", prose_of(page), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", words.lower()).replace(" ", "-") for words in headings}


def dead_links(page: Path) -> Iterator[str]:
    """Links of a page that lead nowhere."""
    for link in ("".join(parts) for parts in LINK.findall(prose_of(page))):
        if re.match(r"https?:", link):
            continue
        name, _, anchor = link.partition("#")
        target = (page.parent / name).resolve() if name else page
        if not target.exists() or (anchor and anchor not in anchors_of(target)):
            yield link


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_every_link_leads_somewhere(page: Path) -> None:
    assert list(dead_links(page)) == []


def test_a_dead_link_is_found(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    page.write_text(
        "# One\n\n[a](#one) [b](#two) [c](page.md#one) [d](none.md) [e]\n\n[e]: none.md#one\n"
        '\n`[f](none.md)` <img src="none.png">\n',
        encoding="utf-8",
    )
    assert list(dead_links(page)) == ["#two", "none.md", "none.md#one", "none.png"]
