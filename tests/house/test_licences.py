"""The page of licences names all that comes along, and nothing comes that binds who uses it."""

from __future__ import annotations

import re

import licences

BINDING = re.compile(r"\bA?GPL|proprietary|non-?commercial|not said", re.IGNORECASE)


def listed() -> dict[str, str]:
    rows = re.findall(r"^- \*\*(.+)\*\*: (.+)$", licences.PAGE.read_text("utf-8"), re.MULTILINE)
    return {name: words for words, names in rows for name in names.split(", ")}


def test_every_dependency_is_listed():
    """Versions differ in what they bring: the page names each that is here."""
    missing = set(licences.closure()) - set(listed())
    assert not missing, f"run python tests/house/licences.py: {missing}"
    assert len(listed()) > 30


def test_none_binds_the_work_of_who_uses_it():
    """Lesser and weaker copyleft asks something of its own files only; the GPL of the whole."""
    for name, found in licences.closure().items():
        assert not BINDING.search(licences.licence_of(found).replace("LGPL", "")), name


def test_a_binding_licence_would_be_seen():
    assert BINDING.search("GNU Affero General Public License v3 (AGPL-3.0)")
    assert BINDING.search("GPL-3.0-only")
    assert not BINDING.search("LGPL-3.0-only".replace("LGPL", ""))
