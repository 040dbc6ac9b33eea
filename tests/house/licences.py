"""Licences of all that comes along: ``python tests/house/licences.py`` writes the page."""

from __future__ import annotations

from collections import defaultdict
from importlib import metadata
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

# What older releases bring and the newest no longer do.
EARLIER = {
    "click-plugins": "BSD License",  # rasterio
    "cligj": "BSD",  # rasterio
    "pytz": "MIT License",  # pandas
    "six": "MIT License",  # python-dateutil
}

PAGE = Path(__file__).parents[2] / "docs" / "licences.md"

HEAD = """\
# Licences of the dependencies

What `pip install seabed-layers` brings along, unchanged, under the licence that each names in its
metadata. The toolkit is under the MIT licence. fpdf2 (LGPL) and certifi (MPL) ask only that their
own files stay open.

A map carries Leaflet's files (BSD-2-Clause) and says so; a printed sheet carries outlines of
letters (Open Sans, Apache-2.0). Grids, charts and tables that you name have their own terms.
(`python tests/house/licences.py` writes this page.)

"""


def closure(name: str = "seabed-layers") -> dict[str, metadata.Distribution]:
    """Every distribution that comes with one, by name, itself left out."""
    found: dict[str, metadata.Distribution] = {}
    waiting = [name]
    while waiting:
        one = canonicalize_name(waiting.pop())
        if one in found:
            continue
        found[one] = metadata.distribution(one)
        for words in found[one].requires or []:
            needed = Requirement(words)
            if needed.marker is None or needed.marker.evaluate({"extra": ""}):
                waiting.append(needed.name)
    del found[canonicalize_name(name)]
    return found


def licence_of(found: metadata.Distribution) -> str:
    """What its metadata says: an expression, else its classifiers, else the first line."""
    told = found.metadata
    if told.get("License-Expression"):
        return str(told["License-Expression"])
    classes = [
        words.rsplit("::", 1)[1].strip()
        for words in told.get_all("Classifier", [])
        if words.startswith("License ::") and words.count("::") > 1
    ]
    return ", ".join(classes) or str(told.get("License", "")).split("\n")[0] or "not said"


def page() -> str:
    """The page as it should be."""
    told = EARLIER | {name: licence_of(found) for name, found in closure().items()}
    of = defaultdict(list)
    for name, words in sorted(told.items()):
        of[words].append(name)
    lines = [f"- **{words}**: {', '.join(of[words])}\n" for words in sorted(of)]
    return HEAD + "".join(lines)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
