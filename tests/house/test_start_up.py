"""What the command does not load before it must; the seconds are in benchmarks/."""

from __future__ import annotations

import importlib
import json
import subprocess
import sys

import pytest

HEAVY = ("numpy", "pandas", "geopandas", "xarray", "rasterio", "rioxarray", "scipy", "numba",
         "shapely", "pyproj", "folium", "pyogrio")  # fmt: skip


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from layers.cli.main import main; main()", *arguments]
    return subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)


@pytest.mark.parametrize("module", ["layers.cli.app", "layers.desk.app"])
def test_help_and_the_server_of_the_desk_load_nothing_heavy(module):
    """Every command and its request is loaded for help; of the desk, its worker loads the rest."""
    code = (
        "import sys, json\n"
        f"import {module}\n"
        f"print(json.dumps([n for n in {HEAVY!r} if n in sys.modules]))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == []


def test_each_command_has_help_with_an_example_and_exit_codes(capsys):
    from layers.cli.app import COMMANDS
    from layers.cli.main import main

    top = run("--help")
    assert "Exit codes" in top.stdout
    assert "Not for navigation" in top.stdout
    for name in COMMANDS:
        assert f"  {name} " in top.stdout
        with pytest.raises(SystemExit) as ended:
            main([name, "--help"])
        assert not ended.value.code, name
        shown = capsys.readouterr().out.split("Options:")[-1]
        examples = importlib.import_module(f"layers.cli.commands.{name}").EXAMPLES.splitlines()
        whole = [line.strip() for line in examples if line.startswith("  seabed ")]
        assert whole, f"{name} has no example"
        for example in whole:
            assert example in shown, "an example is broken over two lines"
