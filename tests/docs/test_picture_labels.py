"""Pictures in the docs show today's labels: each one on a picture is still in the code."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import pytest

from layers.cautions import CAUTIONS_SHORT

ROOT = Path(__file__).parents[2]
PICTURES = ROOT / "docs" / "pictures"
NOTED = json.loads((PICTURES / "labels.json").read_text(encoding="utf-8"))
AGAIN = "Make them again: python tests/demo/make_readme_pictures.py"


def words_of_code() -> str:
    """All text of the pages' own code, white space as one space."""
    files = [*(ROOT / "layers").rglob("*.py"), *(ROOT / "layers").rglob("*.js"),
             *(ROOT / "layers").rglob("*.html"), *(ROOT / "seabed").rglob("*.py")]  # fmt: skip
    text = "\n".join(path.read_text(encoding="utf-8") for path in files)
    return re.sub(r"\s+", " ", f"{text} {CAUTIONS_SHORT}")


@pytest.fixture(scope="module")
def code() -> str:
    return words_of_code()


def test_every_picture_of_a_map_or_sheet_is_noted() -> None:
    # those of the desk are taken by its own script
    made = {path.name for path in PICTURES.glob("*.png") if not path.name.startswith("desk_")}
    assert set(NOTED) == made, AGAIN


@pytest.mark.parametrize("name", sorted(NOTED))
def test_no_label_of_a_picture_is_gone(name: str, code: str) -> None:
    labels = NOTED[name]["labels"]
    assert len(labels) >= 3
    gone = [label for label in labels if label not in code]
    assert gone == [], f"{name} shows labels that no page has. {AGAIN}"


@pytest.mark.parametrize("name", sorted(NOTED))
def test_the_labels_were_noted_as_the_picture_was_made(name: str) -> None:
    made = hashlib.sha256((PICTURES / name).read_bytes()).hexdigest()
    assert made == NOTED[name]["sum"], AGAIN


def test_a_label_that_is_gone_would_be_seen(code: str) -> None:
    assert "Lines by rate" in code and "Lines by luck" not in code
