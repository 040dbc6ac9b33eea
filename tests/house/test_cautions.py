"""The cautions: what they must name, and that pages which repeat them keep in step."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from layers.cautions import CAUTIONS, CAUTIONS_SHORT, DRIFT_CAUTION, MARK_CAUTION, SOUND_CAUTION

HERE = Path(__file__).parents[2]


def test_the_readme_says_the_cautions_word_for_word() -> None:
    readme = (HERE / "README.md").read_text(encoding="utf-8")
    # `docs/limits.md` takes the text between these headings
    text = readme.partition("## Cautions")[2].partition("## Status")[0]
    assert CAUTIONS in re.sub(r"\s+", " ", text)
    limits = (HERE / "docs" / "limits.md").read_text(encoding="utf-8")
    assert '```{include} ../README.md\n:start-after: "## Cautions"' in limits


@pytest.mark.parametrize(
    "word",
    ["lightning", "fog", "lights from sunset to sunrise", "lookout", "cut-off cord", "lifejackets",
     "plan ashore", "hour at which you will be back", "official charts", "collision regulations",
     "lee shore", "the skipper decides"],
)  # fmt: skip
def test_the_cautions_name(word: str) -> None:
    assert word in CAUTIONS


def test_every_caution_begins_or_ends_with_what_all_is_not() -> None:
    assert CAUTIONS.startswith("Not for navigation.")
    assert CAUTIONS_SHORT.startswith("Not for navigation.")
    assert len(CAUTIONS_SHORT) < 80  # one line of a phone's header
    assert DRIFT_CAUTION == "A drift, not a course to steer. Not for navigation."
    for words in (MARK_CAUTION, SOUND_CAUTION):
        assert words.endswith("Not for navigation.")
