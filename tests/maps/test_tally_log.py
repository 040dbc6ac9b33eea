"""The catch log that the map saves, without a browser."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
from pathlib import Path

import pytest

import layers.maps
from layers.catches import read_catches

BROWSER = Path(layers.maps.__file__).parent / "browser"


def test_words_that_a_spreadsheet_would_run_are_guarded_in_the_catch_log(tmp_path: Path) -> None:
    """First letters as OWASP lists them under "CSV injection"."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("needs node")
    said = ["=1+1", "+3 m", "-slow", "@dawn", "dab", "'twas"]
    fish = [
        {"time": f"2031-06-14T08:{i:02d}:00Z", "species": word, "length": None, "unit": "in",
         "kept": True, "note": word, "place": [-46.2, -31.4]}
        for i, word in enumerate(said)
    ]  # fmt: skip
    module = (BROWSER / "fishing" / "tally.js").as_uri()
    script = tmp_path / "tally.mjs"
    script.write_text(
        f'import {{ tallyCsv }} from "{module}";\n'
        f"process.stdout.write(tallyCsv({json.dumps(fish)}));\n",
        encoding="utf-8",
    )
    done = subprocess.run([node, script], capture_output=True, check=True, encoding="utf-8")
    path = tmp_path / "catches.csv"
    path.write_text(done.stdout, encoding="utf-8")
    rows = list(csv.DictReader(done.stdout.splitlines()))
    for name in ("species", "note"):
        assert not [row for row in rows if row[name][0] in "=+-@"]
    read = read_catches([path], timezone="UTC")
    assert list(read["note"]) == list(read["species"]) == said
    assert read["latitude"].tolist() == [-46.2] * len(said)
