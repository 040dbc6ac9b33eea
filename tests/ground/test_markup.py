"""Text inside XML, judged by the standard library's parser (expat)."""

from __future__ import annotations

from xml.etree import ElementTree

from hypothesis import given
from hypothesis import strategies as st

from seabed.markup import markup_text


@given(st.text(st.characters(exclude_characters="\r")))
def test_any_text_is_read_back_but_for_what_xml_has_no_place_for(words):
    root = ElementTree.fromstring(f"<a>{markup_text(words)}</a>")
    kept = [c for c in words if c in "\t\n" or 0x20 <= ord(c) < 0xD800 or 0xE000 <= ord(c) < 0xFFFE
            or ord(c) > 0xFFFF]  # fmt: skip
    assert (root.text or "") == "".join(kept)


def test_the_characters_just_outside_are_dropped():
    assert markup_text("\x08\t\n\x0b\x1f \ud7ff\ud800\udfff\ue000\ufffd\ufffe\uffff") == (
        "\t\n \ud7ff\ue000\ufffd"
    )
