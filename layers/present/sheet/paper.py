"""Papers that a sheet is printed on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from seabed.errors import OutputError


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper, and how a sheet is laid on it.

    width, height, side: of the paper, and its margin left and right, mm.
    passes: so many passes have room beside each other.
    read_pt: the least size of what is read afloat; positions are larger by a sixth.
    abreast: pictures beside the words; else under them.
    short_foot: the cautions in one line on each page, and whole at the end.
    """

    width: float = 210.0
    height: float = 297.0
    side: float = 10.0
    passes: int = 6
    read_pt: float = 12.0
    abreast: bool = True
    short_foot: bool = False

    @property
    def room(self) -> float:
        """Width between the margins, mm."""
        return self.width - 2 * self.side

    @property
    def times(self) -> float:
        """How many times as large as usual pictures and boxes are."""
        return max(1.0, self.read_pt / 12.0)

    @property
    def css(self) -> str:
        """What differs from A4, as CSS."""
        size = f"@page {{ size: {self.width:g}mm {self.height:g}mm; margin: 5mm {self.side:g}mm; }}"
        body = f"body {{ width: {self.room:g}mm; font-size: {self.read_pt:g}pt; }}"
        stacked = "" if self.abreast else ".line { grid-template-columns: 1fr 1fr; }"
        boxes = f".tally i {{ height: {5 * self.times:g}mm; }}"
        return (
            f"{size}\n{body}\n{boxes}\n{stacked} .line .words {{ grid-column: {self.columns}; }}\n"
        )

    @property
    def columns(self) -> str:
        """The columns of a line's words, beside pictures or over them."""
        return "auto" if self.abreast else "1 / -1"


PAPERS: Final = {
    "A4": Paper(),
    "letter": Paper(215.9, 279.4),
    "A5": Paper(148.0, 210.0, 7.0, 4, abreast=False, short_foot=True),
    "card": Paper(100.0, 150.0, 5.0, 2, abreast=False, short_foot=True),
    "large": Paper(passes=4, read_pt=17.0, abreast=False),
}
"""``card`` goes into a small waterproof pouch; ``large`` is large print on A4."""


def paper_named(word: str) -> Paper:
    """Give a paper by its name, whatever its case; OutputError if there is none.

    >>> paper_named("a5").width
    148.0
    """
    for name, paper in PAPERS.items():
        if word.strip().lower() == name.lower():
            return paper
    raise OutputError(
        f"no paper is called {word!r}", key="paper", do=f"Give one of {', '.join(PAPERS)}."
    )
