"""Every text of the desk is used, and every text that is used is there."""

import re
import tomllib
from pathlib import Path

import pytest

from layers.desk.texts import text

DESK = Path(text.__code__.co_filename).parent
TEXTS = tomllib.loads((DESK / "texts.toml").read_text(encoding="utf-8"))
SOURCE = "".join(
    path.read_text(encoding="utf-8")
    for ending in ("py", "html")
    for path in DESK.rglob(f"*.{ending}")
)
NAMED = set(re.findall(r"""["'](\w+\.\w+)["']""", SOURCE))
WORDS = set(re.findall(r"\w+", SOURCE))


@pytest.mark.parametrize("section", sorted(set(TEXTS) - {"settings"}))
def test_no_text_is_left_over(section):
    """Some are put together, ``"task." + state``: their last word then stands in the source."""
    composed = re.findall(rf"""["']{section}\.(\w*)["'] \+""", SOURCE)
    left = [
        key for key in TEXTS[section]
        if f"{section}.{key}" not in NAMED
        and not any(key.startswith(start) and key.removeprefix(start) in WORDS for start in composed)
    ]  # fmt: skip
    assert not left


def test_no_text_is_missing():
    sections = {name for name in NAMED if name.split(".")[0] in TEXTS}
    files = {name for name in sections if name.endswith((".html", ".js", ".css"))}
    missing = [
        name for name in sections - files if name.split(".")[1] not in TEXTS[name.split(".")[0]]
    ]
    assert not missing
