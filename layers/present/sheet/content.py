"""What the sheet holds: the day's plan on paper, to read with wet hands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from layers.cautions import CAUTIONS
from layers.present.sheet.ground_plan import GroundPlan

NO_HAZARDS: Final = "No charted hazards were considered: hold each line against the official chart."
"""What a plan must say that looks at depths alone."""

BACK_BY_HAND: Final = "Leave a copy ashore, with the hour at which you will be back: ________"
NOTHING_WORTH: Final = (
    "No drift in these hours is worth making: the water is slack, the motor can't hold the boat, "
    "or the boat is soon out of your depth band."
)
TALLY_BOXES: Final = 8
FATES: Final = ("Kept", "Short")
Position = tuple[float, float]


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One line of the plan, in words ready to print.

    start, end: (longitude, latitude).
    facts: short lines of text, the most needed first.
    profile: metres along the line, and depth of water there in the unit shown.
    latest: the latest time to begin it.
    band: water over the depth band at that hour, in the unit shown.
    before: what to do until then: runs, slack, waits.
    beside: passes beside it: name, start, end.
    passes: what changes from pass to pass: a row each, its name and a cell a pass.
    """

    name: str
    when: str
    start: Position
    end: Position
    facts: Sequence[str]
    profile: Sequence[tuple[float, float]] = ()
    latest: str = ""
    band: tuple[float, float] | None = None
    ground: GroundPlan | None = None
    before: Sequence[str] = ()
    beside: Sequence[tuple[str, Position, Position]] = ()
    passes: Sequence[tuple[str, Sequence[str]]] = ()

    def pass_bands(self, most: int) -> list[list[tuple[str, Sequence[str]]]]:
        """Give what changes from pass to pass, at `most` so many passes at a time."""
        count = len(self.passes[0][1]) if self.passes else 0
        return [
            [(name, cells[first : first + most]) for name, cells in self.passes]
            for first in range(0, count, most)
        ]


@dataclass(frozen=True, slots=True)
class TideCurve:
    """The tide of the day, NaN where unknown, by hours of the local day.

    slots: begin and end of each line's time, and its name.
    turns: hour, height and words of each high and low water.
    speeds, toward: of the current at each hour, in the unit shown and degrees.
    slack: begin and end of each slack water.
    sun: hour and words of sunrise and sunset.
    """

    hours: Sequence[float]
    heights: Sequence[float]
    slots: Sequence[tuple[float, float, str]] = ()
    turns: Sequence[tuple[float, float, str]] = ()
    speeds: Sequence[float] = ()
    toward: Sequence[float] = ()
    speed_unit: str = "kn"
    slack: Sequence[tuple[float, float]] = ()
    sun: Sequence[tuple[float, str]] = ()


@dataclass(frozen=True, slots=True)
class Sheet:
    """A day's plan, ready to print.

    water: the day's wind and tide in a line.
    after: what to do after the last line.
    what_if: what may come otherwise, and what to do then.
    hazard_words: which hazards were kept clear of.
    beyond: that the plan is beyond the boat's limits, shown before all else; ``""`` if not.
    warnings: what else could hurt, the worst first.
    facts: what water, light and sea do that day.
    home: when the boat will be back, for whoever stays ashore.
    """

    title: str
    water: str
    depth_unit: str
    lines: Sequence[SheetLine]
    tide: TideCurve | None = None
    after: Sequence[str] = ()
    what_if: Sequence[tuple[str, str]] = ()
    hazard_words: str = NO_HAZARDS
    beyond: str = ""
    warnings: Sequence[str] = ()
    home: str = BACK_BY_HAND
    facts: Sequence[str] = ()


FOOT: Final = f"{CAUTIONS} Check the current local rule: sizes and bags change."
"""The words at the foot."""
