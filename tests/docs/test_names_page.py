"""The page of names says of each layer, control and mark whose its name is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from layers.present.looks import MARKS

ROOT = Path(__file__).parents[2]
FRAME = ROOT / "layers" / "maps" / "browser" / "frame"
ROWS = re.findall(
    r"^\| (.+?) \|(.+)\|$", (ROOT / "docs" / "names.md").read_text(encoding="utf-8"), re.MULTILINE
)
NAMED = {name.strip() for names, _ in ROWS for name in (names, *names.split(","))}


def shown() -> list[str]:
    """Names of layers and controls, as the map's own code has them."""
    switches = (FRAME / "switches.js").read_text(encoding="utf-8")
    frame = (FRAME / "frame.html").read_text(encoding="utf-8")
    return [
        *re.findall(r'^  \["([^"]+)", "', switches, re.MULTILINE),
        *re.findall(r'add\("([^"]+)"', switches),
        *re.findall(r"<h2[^>]*>([^<]+)", frame),
        *re.findall(r"<button[^>]*>([^<]+)</button>", frame),
    ]


def test_layers_and_controls_are_found() -> None:
    assert len(shown()) > 25 and {"Contours", "Try a drift", "Where to look first"} <= {*shown()}


@pytest.mark.parametrize("name", [*shown(), *MARKS])
def test_the_page_says_whose_a_name_is(name: str) -> None:
    assert name in NAMED


def test_every_row_says_whose() -> None:
    words = [row[-1] for row in ((*rest.split("|"),) for _, rest in ROWS)]
    unsaid = [one for one in words if not re.search(r"trade|standard|ours|whose|---", one)]
    assert unsaid == []
