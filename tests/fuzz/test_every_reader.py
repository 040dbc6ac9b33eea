"""Every reader over files changed by chance: one error of ours or an answer, soon, and small.

A part of the changes each run; 50,000 a reader where ``SEABED_THOROUGH`` is set.
"""

from __future__ import annotations

import sys

import pytest
from thoroughness import THOROUGH

if sys.platform == "win32":
    pytest.skip("NOT TESTED: no limits of time and memory here", allow_module_level=True)

import corpus
from fuzzing import READERS, fuzz

SLOW = {"tracks", "logbooks", "merged logbooks", "shared copies"}
"""They run much beside the reading."""


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    return corpus.make(tmp_path_factory.mktemp("corpus"))


@pytest.mark.parametrize("name", READERS)
def test_a_whole_file_is_read(files, name, tmp_path):
    for path in files[name]:
        READERS[name](path)


@pytest.mark.parametrize("name", READERS)
def test_changed_files_give_an_answer_or_one_error(files, name, tmp_path):
    count = 50_000 if THOROUGH else 8 if name in SLOW else 32
    tally = fuzz(name, files[name], tmp_path, range(count))
    assert tally.failures == []
    assert 0 < tally.refused < tally.tried or name in {"photos", "sounder logs"}
