"""Passes beside a line, at a spacing, that take turns with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from seabed.errors import SeabedError
from seabed.units import Say

LEAST_SPACING_M: Final = 1.0


@dataclass(frozen=True, slots=True)
class Beside:
    """Passes to lay beside a line of a plan, `each_side` of them to its left and right.

    name: in the plan, or that of the logbook's line which it drifts again (the first such).
    """

    name: str
    spacing_m: float = 20.0
    each_side: int = 1

    def __post_init__(self) -> None:
        if not self.spacing_m >= LEAST_SPACING_M:
            raise SeabedError(
                f"passes {self.spacing_m:g} m apart are one",
                key="spacing",
                do='Write it like "20 m".',
            )

    @property
    def ways(self) -> Sequence[tuple[float, float]]:
        """Angle to the right of the line's bearing and metres of each, nearest first."""
        return [
            (angle, number * self.spacing_m)
            for number in range(1, self.each_side + 1)
            for angle in (-90.0, 90.0)
        ]

    def named(self, line: str, way: int) -> str:
        """Name a way, counted from 1, beside a line: ``"P2 L1"``."""
        return f"{line} {'LR'[(way - 1) % 2]}{(way + 1) // 2}"

    def words(self, line: str, way: int, say: Say) -> str:
        """Give the side and distance of a way."""
        angle, metres = self.ways[way - 1]
        return f"Beside {line}, {say(metres)} to the {'left' if angle < 0 else 'right'}."

    def number_of(self, again_of: Sequence[str]) -> int:
        """Find the line among those of a plan, P1 first; SeabedError if there is none.

        again_of: the line that each drifts again.
        """
        wanted = self.name.strip().upper()
        own = [f"P{number}" for number in range(1, len(again_of) + 1)]
        for names in (own, again_of):
            for number, name in enumerate(names):
                if name.upper() == wanted != "":
                    return number
        names = [*own, *(name for name in dict.fromkeys(again_of) if name)]
        known = f"Name one of {', '.join(names)}." if names else "This plan has no line."
        raise SeabedError(f"no line {self.name!r} in this plan", key="beside", do=known)
