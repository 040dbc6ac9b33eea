"""Every text of the desk is used, and every text that is used is there."""

import re
import tomllib
from pathlib import Path

import pytest

from layers.desk.pages.this_water import GROUPS
from layers.desk.texts import text
from layers.jobs.requests import PICTURE_KINDS
from seabed.tables.headings import CATCH_MEANINGS

DESK = Path(text.__code__.co_filename).parent
TEXTS = tomllib.loads((DESK / "texts.toml").read_text(encoding="utf-8"))
SOURCE = "".join(
    path.read_text(encoding="utf-8")
    for ending in ("py", "html")
    for path in DESK.rglob(f"*.{ending}")
)
NAMED = set(re.findall(r"""["'](\w+\.\w+)["']""", SOURCE))
FIELDS = {name for names in GROUPS.values() for name in names}
WORDS = set(re.findall(r"\w+", SOURCE)) | {*CATCH_MEANINGS, *PICTURE_KINDS, *FIELDS}


@pytest.mark.parametrize("section", sorted(set(TEXTS) - {"settings"}))
def test_no_text_is_left_over(section):
    """Some are put together, ``"task." + state``: their last word is then in the source."""
    composed = re.findall(rf"""["']{section}\.(\w*)["'] \+""", SOURCE)
    ends = {f"{start}{word}" for start in composed for word in WORDS}
    assert not [
        key for key in TEXTS[section] if f"{section}.{key}" not in NAMED and key not in ends
    ]


def test_no_text_is_missing():
    parts = [name.split(".") for name in NAMED if not name.endswith((".html", "_"))]
    assert not [(section, key) for section, key in parts if key not in TEXTS.get(section, {key})]


def test_every_meaning_of_a_column_has_a_text():
    assert set(CATCH_MEANINGS) <= set(TEXTS["columns"])


def test_every_field_of_the_page_on_a_water_has_a_text():
    assert set(TEXTS["keys"]) >= FIELDS
    assert set(TEXTS["water"]) >= set(GROUPS)


def test_every_kind_of_picture_has_a_text():
    assert {f"picture_{kind}" for kind in PICTURE_KINDS} <= set(TEXTS["bottom"])
