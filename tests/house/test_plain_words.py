"""Text is plain English: the phrases that docs/glossary.md rules out are in no string."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from proselint.checks import __register__
from proselint.config import DEFAULT
from proselint.registry import CheckRegistry
from proselint.tools import LintFile

ROOT = Path(__file__).parents[2]
GLOSSARY = ROOT / "docs" / "glossary.md"


def ruled_out() -> re.Pattern[str]:
    """The phrases of the table's second column, as one pattern."""
    table = GLOSSARY.read_text(encoding="utf-8").partition("| write | not |")[2]
    rows = [row.split("|")[2] for row in table.splitlines() if row.count("|") == 3]
    phrases = [phrase.strip() for row in rows[1:] for phrase in row.split(",")]
    assert len(phrases) > 20
    return re.compile(
        rf"\b(?:dead reckoning|({'|'.join(map(re.escape, phrases))})(?! apart))\b", re.I
    )


PATTERN = ruled_out()


def phrases_in(source: str) -> list[str]:
    """What is ruled out in the strings of a module, docstrings too."""
    strings = (
        " ".join(node.value.split())
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    )
    return [phrase for text in strings for phrase in PATTERN.findall(text) if phrase]


@pytest.mark.parametrize("package", ["seabed", "layers"])
def test_strings_are_plain(package: str):
    told = {}
    for file in (ROOT / package).rglob("*.py"):
        name = file.relative_to(ROOT).as_posix()
        if phrases := phrases_in(file.read_text(encoding="utf-8")):
            told[name] = phrases
    assert not told, f"say it plainly, as docs/glossary.md does: {told}"


def test_the_check_finds_them():
    assert phrases_in('X = "It can\'t be\\ntold."; Y = f"mend {X}"') == ["be told", "mend"]
    assert not phrases_in('X = "by dead reckoning, told apart"')


PAGES = [
    *(ROOT / "docs").glob("*.md"), *(ROOT / "docs" / "jobs").glob("*.md"),
    *(ROOT / name for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md")),
    ROOT / "demo_area" / "README.md",
]  # fmt: skip
LEFT_OUT = ("typography", "lexical_illusions", "dates_times")  # of proselint: tables and code


def prose_of(page: str) -> str:
    """A page without its code, and without its tables' rows of phrases that are ruled out."""
    page = re.sub(r"^```.*?^```", "", page.partition("| write | not |")[0], flags=re.S | re.M)
    return re.sub(r"`[^`]*`", "X", page)


@pytest.fixture(scope="module")
def checks():
    """The checks of a prose linter that suit technical pages."""
    CheckRegistry().register_many(__register__)
    settings = {name: on and name not in LEFT_OUT for name, on in DEFAULT["checks"].items()}
    return {"max_errors": 1000, "checks": settings}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_pages_are_plain(page: Path, checks):
    text = prose_of(page.read_text(encoding="utf-8"))
    ours = [" ".join(match[0].split()) for match in PATTERN.finditer(text) if match[1]]
    theirs = [one.check_result.message for one in LintFile(page.name, text).lint(checks)]
    assert not ours + theirs


def test_the_prose_linter_finds_what_it_is_for(checks):
    assert LintFile("page", "The boat is very unique.").lint(checks)
