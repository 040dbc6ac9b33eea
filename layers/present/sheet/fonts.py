"""Letters for the PDF: the font that is installed with us, and the machine's own for the rest."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from functools import cache
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

from seabed.files import MAKER

if TYPE_CHECKING:
    from fpdf import FPDF

FAMILY: Final = "sheet"
PACKAGE: Final = "ttf_opensans"  # Latin, Greek and Cyrillic

FALLBACKS: Final = (
    "DejaVuSans", "NotoSans-Regular", "arial", "Arial", "Arial Unicode", "segoeui", "tahoma",
    "NotoSansHebrew-Regular", "NotoSansArabic-Regular", "NotoSansThai-Regular",
    "NotoSansDevanagari-Regular", "malgun", "YuGothM", "meiryo", "simhei", "msyh",
    "DroidSansFallbackFull", "wqy-zenhei", "NotoSansCJK-Regular", "Hiragino Sans GB",
)  # fmt: skip
"""Fonts that systems bring and that hold other scripts, the ones of most letters first."""

SUFFIXES: Final = (".ttf", ".otf", ".ttc")


class Fonts(NamedTuple):
    """Which file prints which letters.

    others: for letters that those lack, in the order in which they are asked.
    missing: letters that no font here has, each once.
    """

    regular: Path
    bold: Path
    others: tuple[Path, ...]
    missing: str


def new_document(size: tuple[float, float], fonts: Fonts, title: str) -> FPDF:
    """Begin a PDF of a size in mm, set in `FAMILY`, without a page."""
    from fpdf import FPDF  # noqa: PLC0415 - half a second that only a PDF needs

    pdf = FPDF(format=size)
    pdf.set_auto_page_break(False)
    pdf.c_margin = 0
    pdf.set_title(title)
    pdf.set_creator(MAKER)
    pdf.add_font(FAMILY, "", fonts.regular)
    pdf.add_font(FAMILY, "B", fonts.bold)
    others = {f"other{number}": path for number, path in enumerate(fonts.others)}
    for name, path in others.items():
        pdf.add_font(name, "", path)
    pdf.set_fallback_fonts([*others], exact_match=False)
    return pdf


def find_fonts(text: str) -> Fonts:
    """Find fonts for all letters of a text: ours, and as few of the machine's own as it needs."""
    folder = resources.files(PACKAGE) / "ttf"
    regular, bold = (Path(str(folder / f"OpenSans-{kind}.ttf")) for kind in ("Regular", "Bold"))
    lacking = {ord(letter) for letter in text if not letter.isspace()} - _letters(regular)
    others: list[Path] = []
    for path in _system_fonts() if lacking else ():
        had = lacking & _letters(path)
        if had:
            others.append(path)
            lacking -= had
        if not lacking:
            break
    return Fonts(regular, bold, tuple(others), "".join(map(chr, sorted(lacking))))


@cache
def _letters(path: Path) -> frozenset[int]:
    """Letters that a font draws; none where it can't be read."""
    from fontTools.ttLib import TTFont, TTLibError  # noqa: PLC0415 - slow, and seldom needed

    try:
        with TTFont(path, fontNumber=0, lazy=True) as font:
            return frozenset(font.getBestCmap() or ())
    except (OSError, TTLibError, ValueError, KeyError):
        return frozenset()


def _system_fonts() -> Iterable[Path]:
    """Fonts of this machine among `FALLBACKS`, in that order."""
    paths: dict[str, Path] = {}
    for folder in _font_folders():
        for path in folder.rglob("*") if folder.is_dir() else ():
            if path.suffix.lower() in SUFFIXES:
                paths.setdefault(path.stem, path)
    return [paths[name] for name in FALLBACKS if name in paths]


def _font_folders() -> list[Path]:
    if sys.platform == "win32":
        windows = Path(os.environ.get("WINDIR", r"C:\Windows")) / "Fonts"
        return [windows, Path.home() / "AppData/Local/Microsoft/Windows/Fonts"]
    if sys.platform == "darwin":
        return [
            Path("/System/Library/Fonts"),
            Path("/Library/Fonts"),
            Path.home() / "Library/Fonts",
        ]
    return [
        Path("/usr/share/fonts"),
        Path("/usr/local/share/fonts"),
        Path.home() / ".local/share/fonts",
    ]
