"""What the numbers of a layer mean: sign, unit, vertical datum; and turning them into depths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Mask
from seabed.errors import GridError, UnitError
from seabed.grid.attributes import USUAL_VOIDS, Sign, unit_of
from seabed.loaders.layer import STRIP_CELLS, Cells, Layer, strips
from seabed.units import parse_length

SOME_STRIPS: Final = 16
LOOKS: Final = 4
LOOK: Final = 512

DRYING_M: Final = 15.0
"""No tide bares more than this; a depth grid's drying heights stay below it (Bay of Fundy, about
16 m of range at springs)."""


@dataclass(frozen=True, slots=True)
class Tally:
    """Count of a layer's values: how many there are, on which side of 0, and how far.

    shoal_up, shoal_down: the greatest negative and the least positive value: the shallowest depth
        if the values are elevations, or depths.
    """

    cells: int = 0
    valid: int = 0
    negative: int = 0
    positive: int = 0
    least: float = float("inf")
    greatest: float = float("-inf")
    shoal_up: float = float("-inf")
    shoal_down: float = float("inf")

    def __add__(self, other: Tally) -> Tally:
        """Tally of both."""
        return Tally(
            self.cells + other.cells,
            self.valid + other.valid,
            self.negative + other.negative,
            self.positive + other.positive,
            min(self.least, other.least),
            max(self.greatest, other.greatest),
            max(self.shoal_up, other.shoal_up),
            min(self.shoal_down, other.shoal_down),
        )

    def times(self, number: int) -> Tally:
        """Tally of `number` times as many cells like these."""
        return replace(
            self,
            cells=self.cells * number,
            valid=self.valid * number,
            negative=self.negative * number,
            positive=self.positive * number,
        )


@dataclass(frozen=True, slots=True)
class Meaning:
    """Sign, unit and datum settled on, and the guesses that took."""

    sign: Sign
    unit: str
    factor: float
    vertical_datum: str
    guesses: tuple[str, ...]


def tally(array: NDArray[np.float32], *, every: int = 1) -> Tally:
    """Count the values of an array (NaN left out), or of every n-th of its strips."""
    total = Tally()
    for strip in islice(strips(array), 0, None, every):
        below, above = strip < 0, strip > 0
        negative, positive = int(np.count_nonzero(below)), int(np.count_nonzero(above))
        valid = negative + positive + int(np.count_nonzero(strip == 0))
        least, greatest = np.fmin.reduce(strip, axis=None), np.fmax.reduce(strip, axis=None)
        if valid == 0:
            total += Tally(strip.size)
            continue
        total += Tally(
            strip.size,
            valid,
            negative,
            positive,
            float(least),
            float(greatest),
            _greatest(strip, below, negative, valid, greatest),
            -_greatest(-strip, above, positive, valid, -least),
        )
    return total


def _greatest(
    strip: NDArray[np.float32], side: Mask, count: int, valid: int, known: float
) -> float:
    """Greatest value on one side of 0, by the quickest way there is."""
    if count == 0:
        return float("-inf")
    return float(known) if count == valid else float(strip[side].max())


def quick_tally(array: NDArray[np.float32], *, sign_known: bool) -> Tally:
    """Tally of some strips, scaled up, where they settle the sign, else of all.

    It is enough where the sign is known, or a fifth of the values are negative: then they are
    elevations, whatever the rest is.
    """
    every = array.size // (SOME_STRIPS * STRIP_CELLS)
    if every > 1:
        some = tally(array, every=every)
        if some.valid and (sign_known or some.negative >= 0.2 * some.valid):
            return some.times(every)
    return tally(array)


def look(layer: Layer, cells: Cells) -> Tally:
    """Tally of 4 x 4 blocks of 512 x 512 cells spread evenly, or of the whole where it is small.

    A block that can't be read is passed over: its reader raises the error when it needs the block.
    """
    total = Tally()
    for row, rows in _spread(cells.row, cells.rows):
        for column, columns in _spread(cells.column, cells.columns):
            try:
                array = layer.read(Cells(row, column, rows, columns))
            except GridError:
                continue
            if not layer.declared_void:
                blank_usual_voids(array)
            total += tally(array)
    return total


def _spread(first: int, count: int) -> list[tuple[int, int]]:
    if count <= LOOKS * LOOK:
        return [(first, count)]
    starts = np.linspace(0, count - LOOK, LOOKS).astype(int)
    return [(first + int(start), LOOK) for start in starts]


def blank_usual_voids(array: NDArray[np.float32]) -> list[str]:
    """Put NaN for numbers that usually mean "no depth", in place; say which were found."""
    voids: set[float] = set()
    for strip in strips(array):
        if strip.size and (np.nanmax(np.abs(strip), initial=0.0)) >= 9999.0:
            for void in USUAL_VOIDS:
                hit = strip == np.float32(void)
                if hit.any():
                    voids.add(void)
                    np.copyto(strip, np.nan, where=hit)
    return [
        f"The file doesn't say which number means no depth; {void:g} was taken for it."
        for void in sorted(voids)
    ]


def settle(
    layer: Layer,
    counts: Tally,
    *,
    sign: Sign | Literal["auto"] = "auto",
    unit: str = "auto",
    vertical_datum: str | None = None,
) -> Meaning:
    """Settle sign, unit and vertical datum by what was given, what the file says, then its data."""
    chosen, why = _settle_sign(layer, counts, sign)
    name, factor, unit_guess = _settle_unit(layer, unit)
    guesses = [*layer.guesses, *why, *unit_guess]
    return Meaning(
        chosen, name, factor, vertical_datum or layer.vertical_datum or "unknown", tuple(guesses)
    )


def to_depth(
    array: NDArray[np.float32],
    meaning: Meaning,
    *,
    offset_m: float,
    land_above_m: float,
    land: float = float("nan"),
) -> None:
    """Turn stored values into metres positive down, in place, with land as NaN (or as `land`)."""
    factor = np.float32(meaning.factor if meaning.sign == "depth" else -meaning.factor)
    shift, shore = np.float32(offset_m), np.float32(-land_above_m)
    for strip in strips(array):
        if factor != 1:
            np.multiply(strip, factor, out=strip)
        if shift:
            np.add(strip, shift, out=strip)
        np.copyto(strip, np.float32(land), where=strip <= shore)


def _settle_sign(
    layer: Layer, counts: Tally, sign: Sign | Literal["auto"]
) -> tuple[Sign, Sequence[str]]:
    if sign in ("elevation", "depth"):
        return sign, ()
    if sign != "auto":
        raise GridError(f"unknown sign {sign!r}", do="Use auto, elevation (up) or depth (down).")
    if layer.firm_sign is not None:
        return layer.firm_sign, ()
    seen = _sign_of_data(counts)
    likely = layer.likely_sign
    if likely is None:
        return seen, (f"Nothing names the sign; {_reason(counts, seen)}",)
    doubtful = counts.positive == 0 or layer.likely_weak
    if likely == "depth" and seen == "elevation" and doubtful and counts.valid:
        return seen, (
            f"{layer.likely_from!r} suggests {_word(likely)}, but {_reason(counts, seen)}",
        )
    return likely, (f"Read as {_word(likely)}, by the name {layer.likely_from!r}.",)


def _sign_of_data(counts: Tally) -> Sign:
    if counts.negative == 0 and counts.positive:
        return "depth"
    shallow = counts.least >= -DRYING_M and counts.greatest > -counts.least
    if counts.positive and shallow and counts.negative < 0.2 * counts.valid:
        return "depth"
    return "elevation"


def _reason(counts: Tally, sign: Sign) -> str:
    if counts.negative == 0 or counts.positive == 0:
        share = "all values are " + ("positive" if counts.negative == 0 else "negative")
    else:
        share = f"{counts.negative / counts.valid:.0%} of the values are negative"
    return f"{share}, so they were read as {_word(sign)}. If that is wrong, give the sign."


def _word(sign: Sign) -> str:
    return "depths (positive down)" if sign == "depth" else "elevations (positive up)"


def _settle_unit(layer: Layer, unit: str) -> tuple[str, float, Sequence[str]]:
    if unit != "auto":
        try:
            return unit, parse_length(f"1 {unit}"), ()
        except UnitError as error:
            raise GridError(
                f"unknown unit {unit!r}", file=layer.source, do="Use auto, m, ft or fm."
            ) from error
    if not layer.unit:
        return "m", 1.0, ("The file names no unit; metres were assumed.",)
    known = unit_of(layer.unit)
    if known is None:
        return "m", 1.0, (f"The file's unit {layer.unit!r} isn't known; metres were assumed.",)
    return *known, ()
