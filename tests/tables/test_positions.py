"""Positions in every form and the letters of ten languages.  Truth: the angle that was written."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from seabed.tables.positions import east_letter, read_angle, read_position

SIDES = {  # north, south, east, west
    "en": "NSEW", "de": "NSOW", "fr": "NSEO", "nl": "NZOW", "da": "NSØV", "no": "NSØV",
    "sv": "NSÖV", "es": "NSEO", "pt": "NSLO", "it": "NSEO",
}  # fmt: skip
O_IS = {"de": "east", "nl": "east", "fr": "west", "es": "west", "pt": "west", "it": "west"}


def written(degrees: float, letters: str, form: str, comma: bool) -> tuple[str, float]:
    """An angle in a form, and what the form holds of it."""
    size, letter = abs(degrees), letters[degrees < 0]
    whole, minutes = int(size), (size - int(size)) * 60
    if form == "signed":
        text, value = f"{degrees:.5f}", float(f"{degrees:.5f}")
    elif form == "decimal":
        text, value = f"{size:.5f}° {letter}", float(f"{size:.5f}")
    elif form in ("minutes", "before"):
        shown = min(round(minutes, 3), 59.999)
        text, value = f"{whole:03d}°{shown:06.3f}'{letter}", whole + shown / 60
        if form == "before":
            text = f"{letter} {whole} {shown:.3f}"
    else:
        shown, seconds = int(minutes), min(round((minutes - int(minutes)) * 60, 1), 59.9)
        text, value = f"{whole}°{shown:02d}′{seconds:04.1f}″{letter}", 0.0
        value = whole + shown / 60 + seconds / 3600
    value = value if form == "signed" or degrees >= 0 else -value
    return (text.replace(".", ",") if comma else text), value


ANGLES = st.floats(-1, 1, allow_nan=False)
FORMS = st.sampled_from(["signed", "decimal", "minutes", "before", "seconds"])
ANY = {"part": ANGLES, "form": FORMS, "comma": st.booleans(), "language": st.sampled_from([*SIDES])}


@given(**ANY)
def test_angles(part, form, comma, language):
    north, south, east, west = SIDES[language]
    for axis, most, letters in (("latitude", 90, north + south), ("longitude", 180, east + west)):
        text, value = written(part * most * 0.999, letters, form, comma)
        assert read_angle(text, axis, o_is=O_IS.get(language)) == pytest.approx(value, abs=1e-9)


@given(**ANY, other=ANGLES, mark=st.sampled_from([" ", "; ", ", ", " / "]), turned=st.booleans())
def test_positions(part, form, comma, language, other, mark, turned):
    north, south, east, west = SIDES[language]
    first, latitude = written(part * 89.9, north + south, form, comma)
    second, longitude = written(other * 179.9, east + west, form, comma)
    words = [second, first] if turned and form != "signed" else [first, second]
    shown = read_position(mark.join(words), o_is=O_IS.get(language))
    assert shown == pytest.approx((longitude, latitude), abs=1e-9)


def test_an_o_is_decided_by_its_column_or_its_language():
    assert east_letter(["3°12' O", "4°0' W"]) == "east"
    assert east_letter(["3°12' O", "4°0' E"]) == "west"
    assert east_letter(["3°12' O"]) is None
    assert east_letter(["3°12' O"], ["breite", "lange"]) == "east"
    assert east_letter(["3°12' O"], ["latitud", "longitud"]) == "west"
    with pytest.raises(ValueError, match="may be east or west"):
        read_angle("3°12' O", "longitude")


@pytest.mark.parametrize(
    "word",
    ["", "north", "12 N 13", "91 N", "-46 S", "46 60.0 N", "46.5 30 N", "1 2 3 4", "46 E", "nan",
     "1e3", "46 -30", "3" * 400],
)  # fmt: skip
def test_what_is_no_latitude(word):
    with pytest.raises(ValueError, match=r"not a latitude|60 minutes"):
        read_angle(word, "latitude")


def test_minus_nought_degrees_is_south():
    assert read_angle("-0 30", "latitude") == -0.5
    assert read_angle("46d11m24s", "latitude") == pytest.approx(46.19)
