"""Text is plain English: the phrases that plain_words.txt rules out are nowhere in it."""

from __future__ import annotations

import ast
import io
import re
import tokenize
from pathlib import Path

import pytest
from proselint.checks import __register__
from proselint.config import DEFAULT
from proselint.registry import CheckRegistry
from proselint.tools import LintFile

ROOT = Path(__file__).parents[2]
PHRASES = Path(__file__).with_name("plain_words.txt")


def ruled_out() -> re.Pattern[str]:
    """The phrases after the equals signs, as one pattern."""
    lines = PHRASES.read_text(encoding="utf-8").splitlines()
    phrases = [one.strip() for line in lines for one in line.partition(" = ")[2].split(",")]
    phrases = [phrase for phrase in phrases if phrase]
    assert len(phrases) > 20
    return re.compile(
        rf"\b(?:dead reckoning|({'|'.join(map(re.escape, phrases))})(?! apart))\b", re.I
    )


PATTERN = ruled_out()


def phrases_in(source: str) -> list[str]:
    """What is ruled out in the strings and comments of a module."""
    joined = re.sub(r"[\"']\s*[rbf]*[\"']", "", source)  # strings side by side are one
    if not PATTERN.search(" ".join(re.sub(r"\\n|#", " ", joined).split())):
        return []  # most are: to parse them all takes seconds
    strings = [
        node.value
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    ]
    tokens = tokenize.generate_tokens(io.StringIO(source).readline)
    comments = [token.string for token in tokens if token.type == tokenize.COMMENT]
    texts = (" ".join(text.split()) for text in [*strings, " ".join(comments)])
    return [phrase for text in texts for phrase in PATTERN.findall(text) if phrase]


def text_of(file: Path) -> list[str]:
    """What is ruled out in a file of text: markup, style, script or settings."""
    text = " ".join(re.sub(r"^\s*//", "", file.read_text("utf-8"), flags=re.M).split())
    return [phrase for phrase in PATTERN.findall(text) if phrase]


@pytest.mark.parametrize("package", ["seabed", "layers"])
def test_text_of_the_code_is_plain(package: str):
    unplain = {}
    for file in (ROOT / package).rglob("*.*"):
        name = file.relative_to(ROOT).as_posix()
        if file.suffix == ".py":
            phrases = phrases_in(file.read_text(encoding="utf-8"))
        elif file.suffix in {".js", ".css", ".html", ".toml"}:
            phrases = text_of(file)
        else:
            continue
        if phrases:
            unplain[name] = phrases
    assert not unplain, f"say it plainly, as tests/house/plain_words.txt does: {unplain}"


def test_the_check_finds_them(tmp_path):
    assert phrases_in('X = "It can\'t be\\ntold."; Y = f"mend {X}"  # anew') == [
        "be told", "mend", "anew",
    ]  # fmt: skip
    assert phrases_in('X = (\n    "what can be "\n    f"told {Y}"\n)') == ["be told"]
    assert not phrases_in('X = "by dead reckoning, told apart"')
    script = tmp_path / "x.js"
    script.write_text("// what can't be\n// told\n", encoding="utf-8")
    assert text_of(script) == ["be told"]


PAGES = [
    *(ROOT / "docs").glob("*.md"), *(ROOT / "docs" / "jobs").glob("*.md"),
    *(ROOT / name for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md")),
    ROOT / "demo_area" / "README.md",
]  # fmt: skip
LEFT_OUT = ("typography", "lexical_illusions", "dates_times")  # of proselint: tables and code


def prose_of(page: str) -> str:
    """A page without its code."""
    page = re.sub(r"^```.*?^```", "", page, flags=re.S | re.M)
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
