"""The demo, and if asked the tests, under oldest and newest dependencies, and every Python here.

``python tests/matrix.py [--tests] [3.11 3.12 ...]``: needs ``uv``; each environment is in a
folder of its own that is taken away again.  The ranking of the demo must be the same in all.
"""

# ruff: noqa: T201 (a tool that tells what it does)

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
SETS = {"oldest": "lowest-direct", "newest": "highest"}


def pythons(wanted: list[str]) -> list[str]:
    """Paths of the interpreters that are here, of those wanted."""
    found = []
    for version in wanted:
        places = [
            shutil.which(f"python{version}"),
            *map(str, sorted(Path.home().glob(f".pyenv/versions/{version}.*/bin/python"))),
        ]
        path = next((place for place in places if place and _runs(place)), None)
        if path is None:
            print(f"Python {version} is not here: left out")
        else:
            found.append(path)
    return found


def _runs(python: str) -> bool:
    return subprocess.run([python, "-c", ""], capture_output=True, check=False).returncode == 0


def install(python: str, resolution: str, folder: Path, *, tests: bool) -> Path:
    """Make an environment with this checkout in it; give its interpreter."""
    subprocess.run([python, "-m", "venv", folder], check=True)
    inside = folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    uv = [sys.executable, "-m", "uv", "pip", "install", "--quiet", "--python", inside]
    uv += ["--index-strategy", "unsafe-best-match"]
    for option, name in (("--find-links", "PIP_FIND_LINKS"), ("--index-url", "PIP_INDEX_URL")):
        if os.environ.get(name):
            uv += [option, os.environ[name]]
    subprocess.run([*uv, "--resolution", resolution, "--editable", str(ROOT)], check=True)
    if tests:  # the newest that work with what users have installed, which stays as it is
        kept = folder / "kept.txt"
        kept.write_text(frozen(inside), encoding="utf-8")
        uv += ["--constraint", str(kept)]
        subprocess.run([*uv, "--group", f"{ROOT / 'pyproject.toml'}:test"], check=True)
        changed = set(kept.read_text(encoding="utf-8").splitlines()) - set(
            frozen(inside).splitlines()
        )
        if changed:
            raise SystemExit(f"What the tests need has changed {sorted(changed)}")
    return inside


def frozen(inside: Path) -> str:
    """Name what is installed, by version, but for the checkout itself."""
    command = [sys.executable, "-m", "uv", "pip", "freeze", "--quiet", "--exclude-editable"]
    done = subprocess.run(
        [*command, "--python", inside], check=True, capture_output=True, text=True
    )
    return done.stdout


def ranking(python: Path, folder: Path) -> str:
    """Run the demo; give its table of lines."""
    code = "from layers.cli.main import main; main()"
    done = subprocess.run(
        [python, "-c", code, "demo", "--out", "out"], cwd=folder, capture_output=True, text=True,
        check=False, encoding="utf-8",
    )  # fmt: skip
    if done.returncode:
        raise SystemExit(done.stdout + done.stderr)
    return done.stdout.split("rank  line")[1].split("\n\n")[0]


def main() -> None:
    """Run the matrix."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--tests", action="store_true", help="run the tests too")
    options.add_argument("versions", nargs="*", default=["3.11", "3.12", "3.13", "3.14"])
    chosen = options.parse_args()
    tables = {}
    here = pythons(chosen.versions)
    for number, python in enumerate(here):
        for name, resolution in SETS.items():
            if name == "oldest" and number:
                continue  # the oldest releases have no wheels for newer Pythons
            with tempfile.TemporaryDirectory() as place:
                inside = install(python, resolution, Path(place) / "env", tests=chosen.tests)
                version = subprocess.run(
                    [inside, "--version"], capture_output=True, text=True, check=True
                ).stdout.strip()
                tables[version, name] = ranking(inside, Path(place))
                print(f"{version}, {name} dependencies: the demo runs")
                if chosen.tests:
                    subprocess.run([inside, "-m", "pytest"], cwd=ROOT, check=True)
                    print(f"{version}, {name} dependencies: the tests pass")
    if len(set(tables.values())) > 1:
        raise SystemExit(f"The rankings differ: {tables}")
    print("The rankings are the same.")


if __name__ == "__main__":
    main()
