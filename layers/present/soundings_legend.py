"""What the picture of own soundings is read by: its shades, its scale, its signs."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Final

from layers.cautions import CAUTIONS
from seabed.markup import markup_text
from seabed.units import convert, round_step

__all__ = ["ASIDE", "INSIDE", "NEXT", "OUTSIDE", "legend", "meanings", "ruler"]

INSIDE: Final = "#1a7f5a"
OUTSIDE: Final = "#b3402f"
ASIDE: Final = "#8a4fb0"
NEXT: Final = "#1c3fb0"


def legend(  # noqa: PLR0917
    left: float,
    top: float,
    limits: tuple[float, float],
    shades: Sequence[str],
    unit: str,
    what: str,
) -> str:
    """Draw the shades from the least to the greatest of `limits`, metres, told in a unit."""
    stops = "".join(
        f'<stop offset="{i / (len(shades) - 1):.2f}" stop-color="{shade}"/>'
        for i, shade in enumerate(shades)
    )
    low, high = (convert(value, unit) for value in limits)
    return (
        f'<defs><linearGradient id="{shades[0][1:]}">{stops}</linearGradient></defs>'
        f'<rect x="{left}" y="{top}" width="220" height="12" fill="url(#{shades[0][1:]})"/>'
        f'<text x="{left}" y="{top + 28}">{low:.1f}</text>'
        f'<text x="{left + 220}" y="{top + 28}" text-anchor="end">{high:.1f} {unit}</text>'
        f'<text x="{left + 234}" y="{top + 11}">{what}</text>'
    )


def ruler(left: float, bottom: float, across: float, across_m: float, unit: str) -> str:
    """Draw a round length of a panel that is so many pixels and metres across."""
    nice = round_step(convert(max(across_m / 8, 10.0), unit))
    long = nice / convert(across_m, unit) * across
    left, y = left + 12, bottom - 12
    return (
        f'<rect x="{left - 6}" y="{y - 22}" width="{max(long, 48) + 12:.1f}" height="29" '
        'fill="#ffffff" fill-opacity="0.85"/>'
        f'<path d="M{left} {y}h{long:.1f}" stroke="#20242c" stroke-width="3"/>'
        f'<text x="{left}" y="{y - 6}" font-size="12">{nice:g} {unit}</text>'
    )


def meanings(left: float, top: float) -> str:
    """Say what each sign means, and beneath it the cautions."""
    dashes = f'<path d="M-4 -5h20" stroke="{NEXT}" stroke-width="2" stroke-dasharray="7 4"/>'
    signs = (
        (0, _dot(INSIDE), "two lines agree as IHO S-44 order 1a allows"),
        (360, _dot(OUTSIDE), "they don't agree"),
        (540, _dot(ASIDE), "sounding set aside"),
        (740, dashes, "line to sound next"),
    )
    rows = [
        f'<g transform="translate({left + x} {top})">{sign}<text x="22">{words}</text></g>'
        for x, sign, words in signs
    ]
    rows += [
        f'<text x="{left}" y="{top + 24 + 16 * i}" font-size="11.5">{markup_text(line)}</text>'
        for i, line in enumerate(textwrap.wrap(CAUTIONS, 190))
    ]
    return "\n" + "\n".join(rows)


def _dot(colour: str) -> str:
    return f'<circle cx="6" cy="-5" r="5" fill="{colour}" stroke="#ffffff"/>'
