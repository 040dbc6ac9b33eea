"""The page and the printed tables round alike: 510 s is 9 minutes on both."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from seabed.units import rounded, rounded_down

WORDS = Path(__file__).parents[2] / "layers" / "maps" / "browser" / "frame" / "words.js"
VALUES = np.concatenate([np.arange(-40, 400) / 20, np.arange(0, 3600, 30) / 60, [510 / 60, 1.005]])


def test_every_number_is_the_same_on_page_and_paper(tmp_path):
    beside = Path(sys.executable).with_name("node")
    node = str(beside) if beside.exists() else shutil.which("node")
    if node is None:
        pytest.skip("NOT TESTED: node is not installed")
    script = tmp_path / "round.mjs"
    script.write_text(
        f"import {{ rounded, roundedDown }} from {json.dumps(WORDS.as_uri())};\n"
        f"const values = {VALUES.tolist()};\n"
        "console.log(JSON.stringify([0, 1].map((digits) => values.map("
        "(one) => [rounded(one, digits), roundedDown(one, digits)]))));\n"
    )
    done = subprocess.run([node, str(script)], capture_output=True, text=True, check=True)
    for digits, shown in enumerate(json.loads(done.stdout)):
        for value, (near, down) in zip(VALUES.tolist(), shown, strict=True):
            assert near == rounded(value, digits), value
            assert down == rounded_down(value, digits), value
    assert rounded(510 / 60, 0) == "9"
