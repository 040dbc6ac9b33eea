"""One table of looks: what each meaning is drawn in, on the map, the pictures and the sheet.

The bottom is neutral and marked by shape, water is blue, the boat black, fish plum, the band amber,
drifts green, plans navy, danger red.  CSS reads the table through `css_variables`, the browser code
through `for_browser`, pictures through `MARKS` and `INKS`.  No colour is spelled anywhere else.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Final

BLACK: Final = "#000000"
WHITE: Final = "#ffffff"
_DARK: Final = "#14181c"


@dataclass(frozen=True, slots=True)
class Look:
    """How a meaning is drawn.

    colour, night: on a light and on a dark page.
    width: of its line, pixels of a screen.
    dash: drawn and left out, pixels; empty for a whole line.
    casing, night_casing: drawn under it, wider, wherever it is on depths.
    symbol: where it is a letter or a sign.
    """

    colour: str
    night: str
    width: float = 2.0
    dash: tuple[float, ...] = ()
    casing: str = WHITE
    night_casing: str = _DARK
    symbol: str = ""


MARKS: Final = {
    # the bottom: marked by shape, in a neutral
    "contour": Look("#1d2b36", "#f0e6d8", 1.2),
    "chart_contour": Look("#1d2b36", "#f0e6d8", 2, (1, 5)),
    "edge": Look("#1d2b36", "#f0e6d8", 3),
    "hump": Look("#1d2b36", "#f0e6d8", 1.5, (3, 4), symbol="▲"),
    "hole": Look("#1d2b36", "#f0e6d8", 1.5, (3, 4), symbol="▽"),
    "shore": Look("#1d2b36", "#f0e6d8", 2.5),
    "doubtful": Look("#1d2b36", "#f0e6d8", 1.5, symbol="◇"),
    "filled": Look("#5c3a0a", "#e8bb78", 2),
    "scoured": Look("#34427e", "#b9c3f0", 2, (6, 4)),
    "moved": Look("#1d2b36", "#f0e6d8", 3),
    "band": Look("#ffac1c", "#ffc766", 1.6, casing=BLACK),
    "band_edge": Look("#6b3d00", "#ffc766", 1.6, (6, 4)),
    # the water
    "current": Look("#0a3a9e", "#a9c0ff", 4),
    "tide": Look("#0a4d68", "#8fd0e8", 2),
    "slack": Look("#6f7a85", "#aab3bb", 6),
    # the boat and what it does
    "boat": Look("#000000", "#f4f4f4", 3),
    "alone": Look("#000000", "#f4f4f4", 3, (5, 5)),
    "run": Look("#3c4650", "#c3c9cf", 1.5, (2, 6)),
    "gap": Look("#3c4650", "#c3c9cf", 1.5, (10, 8)),
    "drift": Look("#004634", "#7fd1b9", 3),
    "hold": Look("#5b2a86", "#d9bdf2", 4, (1, 5)),
    "motor": Look("#0e7c86", "#7fd6de", 6),
    "section": Look("#1d2b36", "#f0e6d8", 3, (8, 6)),
    # fish, plans, danger
    "fish": Look("#5a0f3c", "#f3b3d6", 2),
    "stretch": Look("#5a0f3c", "#f3b3d6", 14, (3, 9)),
    "plan": Look("#10224d", "#c7d2ff", 9),
    "way": Look("#10224d", "#c7d2ff", 2, (3, 6)),
    "danger": Look("#8f1010", "#ffab9e", 2.5, (12, 4, 2, 4)),
    # own soundings
    "agrees": Look("#1a7f5a", "#8fe0bd", 2),
    "differs": Look("#b3402f", "#ffb4a6", 2, (8, 4)),
    "aside": Look("#b5127a", "#ffa8dc", 2.4),
}  # fmt: skip
"""A look for each meaning."""

RAMPS: Final = {
    "depth": (
        "#f4ecd6", "#cbdebe", "#8ec7b5", "#54a5ac", "#367b9b", "#305485", "#2a3368", "#1b1b42",
    ),
    "depth_night": (
        "#7a7266", "#686258", "#57524b", "#47433f", "#383533", "#2a2828", "#1d1c1d", "#121113",
    ),
    "band": ("#ffde82", "#f7b23e", "#d67c1c"),
    "band_night": ("#b07a2a", "#95601a", "#7a4a10"),
    "expected": ("#26104a", "#68226e", "#ab3a66", "#de664a", "#f7a442", "#fcec8c"),
    "expected_night": ("#120b18", "#331430", "#5a1f38", "#7f3a2e", "#9a5f30", "#b28a4a"),
    "rate": ("#fde7a9", "#f5b14c", "#df7338", "#b03a48", "#6d1a4f"),
    "doubt": ("#1a7f5a", "#8cc084", "#f4e3a1", "#e39a5b", "#b3402f"),
}  # fmt: skip
"""Colours from least to greatest: shoal to deep, low rate to high, sure to unsure."""

INKS: Final = {
    "ink": "#14202b", "soft": "#4a5763", "paper": WHITE, "line": "#c9d0d6", "accent": "#0b5c4a",
    "head": "#eef2f4", "chosen": "#fff4d9", "rail": "#e3e7ea", "span": "#8fb7ac",
    "land": "#d9d3c3", "focus": "#1a5fd0", "bar": "#14202b", "bar-ink": WHITE,
    "warning": "#5a3d00", "caution": "#ffd68a", "label": "#14202b", "halo": WHITE,
    "profile-water": "#dfeef5", "profile-ground": "#b99a62", "profile-line": "#3d2f14",
    "tint": "#eef1f6", "sign": WHITE, "expected": "#de664a",
    "white": WHITE, "black": BLACK, "shadow": "#00000066", "glow": "#fff36b", "beyond": "#8f1010",
    "plan-sign": "#10224d", "danger-sign": "#8f1010", "white-halo": "#ffffffd9",
    "black-halo": "#000000d9", "night-halo": "#8d8578",
}  # fmt: skip
"""Page and letters, by day."""

VIEWS: Final = {
    "sun": {
        "ink": BLACK, "soft": "#1d2730", "line": "#5c666e", "accent": "#004634", "head": "#e2e8ec",
        "span": "#5f9786", "label": BLACK,
    },
    "night": {
        "ink": "#f0e6d8", "soft": "#c3b8a8", "paper": _DARK, "line": "#3d454c",
        "accent": "#7fd1b9", "head": "#20262b", "chosen": "#3a3013", "rail": "#363d43",
        "span": "#3f7f70", "land": "#1b1d1e", "label": "#f0e6d8", "halo": BLACK,
        "profile-water": "#1d2f3a", "profile-ground": "#6d5a35", "profile-line": "#e3c98f",
        "tint": "#20262b", "sign": "#c9c0b2",
    },
    "print": {
        "ink": BLACK, "soft": "#333333", "line": "#9aa4ac", "head": WHITE, "chosen": "#f1f1f1",
        "land": WHITE, "profile-water": "#eef5f8",
    },
}  # fmt: skip
"""What differs from `INKS` in bright sun, at night and on paper."""


def css_variables() -> str:
    """Write the table as CSS: ``--ink``, ``--mark-drift``, ``--casing-drift``, in every view."""
    day = INKS | _marks(night=False)
    night = VIEWS["night"] | _marks(night=True)
    paper = INKS | VIEWS["print"] | _marks(night=False)
    return (
        f":root {{{_declared(day)}}}\n"
        f'body[data-view="sun"] {{{_declared(VIEWS["sun"])}}}\n'
        f'body[data-view="night"] {{{_declared(night)}}}\n'
        f"@media print {{ :root, body[data-view] {{{_declared(paper)}}} }}\n"
    )


def with_variables(svg: str) -> str:
    """Give a picture the colours of `css_variables`, so that it follows the light of its page.

    >>> with_variables('<line stroke="#0a4d68"/>')
    '<line stroke="var(--mark-tide)"/>'
    """
    names = {colour: name for name, colour in reversed(INKS.items())}
    names |= {look.colour: f"mark-{name}" for name, look in MARKS.items()}
    names |= {BLACK: "ink", WHITE: "paper"}
    return re.sub(r"#[0-9a-f]{6}\b", lambda match: f"var(--{names[match[0]]})", svg)


def for_browser() -> dict[str, Any]:
    """Give the table as the browser code takes it: Leaflet's names of a line's looks."""
    return {
        "marks": {
            name: {
                "color": look.colour,
                "weight": look.width,
                "dashArray": " ".join(f"{part:g}" for part in look.dash) or None,
                "casing": look.casing,
                "night": look.night,
                "nightCasing": look.night_casing,
                "symbol": look.symbol,
            }
            for name, look in MARKS.items()
        },
        "ramps": {name: [list(channels(one)) for one in ramp] for name, ramp in RAMPS.items()},
        "inks": INKS,
        "views": VIEWS,
    }


def channels(colour: str) -> tuple[int, int, int]:
    """Give red, green and blue of 0 to 255.

    >>> channels("#ff8000")
    (255, 128, 0)
    """
    red, green, blue = bytes.fromhex(colour[1:])
    return red, green, blue


def tint(colour: str, share: float) -> str:
    """Thin a colour with white, of which it then holds that share.

    >>> tint("#000000", 0.5)
    '#808080'
    """
    return _hex(255 * share + part * (1 - share) for part in channels(colour))


def grey(share: float) -> str:
    """Give a grey: 0 black, 1 white."""
    return tint(BLACK, share)


def shade(ramp: str, share: float) -> str:
    """Give the colour of a ramp at a share of its length, between its stops by proportion.

    >>> shade("band", 0.5)
    '#f7b23e'
    """
    stops = [channels(one) for one in RAMPS[ramp]]
    place = min(max(share, 0.0), 1.0) * (len(stops) - 1)
    first = min(int(place), len(stops) - 2)
    pairs = zip(stops[first], stops[first + 1], strict=True)
    return _hex(one + (other - one) * (place - first) for one, other in pairs)


def contrast(one: str, other: str) -> float:
    """Give the contrast ratio of two colours, 1 to 21 (WCAG 2.2, definition of contrast ratio).

    >>> contrast("#000000", "#ffffff")
    21.0
    """
    lesser, greater = sorted(_luminance(colour) for colour in (one, other))
    return (greater + 0.05) / (lesser + 0.05)


def ink_on(colour: str) -> str:
    """Choose black or white, whichever contrasts with a colour; 4.58 to 1 or more on any."""
    return max((BLACK, WHITE), key=lambda ink: contrast(ink, colour))


def _luminance(colour: str) -> float:
    """Relative luminance of sRGB (WCAG 2.2)."""
    shares = (part / 255 for part in channels(colour))
    light = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in shares]
    return 0.2126 * light[0] + 0.7152 * light[1] + 0.0722 * light[2]


def _hex(parts: Any) -> str:
    return "#" + "".join(f"{round(part):02x}" for part in parts)


def _marks(*, night: bool) -> dict[str, str]:
    return {
        f"{kind}-{name.replace('_', '-')}": colour
        for name, look in MARKS.items()
        for kind, colour in (
            ("mark", look.night if night else look.colour),
            ("casing", look.night_casing if night else look.casing),
        )
    }


def _declared(colours: dict[str, str]) -> str:
    return " ".join(f"--{name}: {colour};" for name, colour in colours.items())
