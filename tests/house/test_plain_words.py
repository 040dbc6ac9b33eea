"""Text is plain English: the phrases that docs/glossary.md rules out are in no string."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

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
