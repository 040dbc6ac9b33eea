"""Machine code where nothing can be kept on the disk."""

from __future__ import annotations

import pickle
import subprocess
import sys
from pathlib import Path

import pytest
from thoroughness import THOROUGH

ROOT = Path(__file__).parents[2]

FULL = """
import resource, signal
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (16, 16))
"""
NO_PLACE = """
from numba.core.caching import CacheImpl
CacheImpl._locator_classes = []
"""


def doubled(folder: Path, before: str) -> str:
    (folder / "own.py").write_text(
        "from seabed.compiled import compiled\n\n"
        "@compiled\ndef doubled(number):\n    return 2 * number\n", encoding="utf-8"
    )  # fmt: skip
    path = f"import sys; sys.path.insert(0, {str(ROOT)!r})"
    code = f"{path}\n{before}\nimport own\nprint(own.doubled(21))"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=folder, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def kept(folder: Path) -> list[Path]:
    return list(folder.rglob("*.nb?"))


@pytest.fixture(scope="module")
def run_once(tmp_path_factory):
    """A folder in which a loop was compiled, and how many files were kept of it."""
    folder = tmp_path_factory.mktemp("own")
    assert doubled(folder, "") == "42\n"
    return folder, len(kept(folder))


def test_it_is_kept(run_once):
    assert run_once[1] == 2


@pytest.mark.skipif(sys.platform == "win32", reason="files cannot be kept short there")
def test_on_a_full_disk_it_works_and_is_not_kept(tmp_path):
    assert doubled(tmp_path, FULL) == "42\n"
    assert not kept(tmp_path)


ROOMS = ["layers.scoring", "layers.tracks", "seabed.structure"]


@pytest.mark.parametrize("room", ROOMS if THOROUGH else ROOMS[:1])
def test_it_works_where_there_is_no_place_to_keep_it_and_rooms_load(tmp_path, room):
    assert doubled(tmp_path, f"{NO_PLACE}\nimport {room}") == "42\n"
    assert not kept(tmp_path)


def test_what_another_version_kept_is_made_anew(run_once):
    """An index whose second part names a class that is gone."""
    folder, _ = run_once
    (index,) = folder.rglob("*.nbi")
    with index.open("rb") as kept_index:
        version = pickle.load(kept_index)
    index.write_bytes(pickle.dumps(version) + b"cnumba\nGone\n.")
    assert doubled(folder, "") == "42\n"
    assert len(kept(folder)) >= 2
