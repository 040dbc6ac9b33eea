"""Every command that writes: where it may not, on a full disk, killed, and in odd places."""

from __future__ import annotations

import contextlib
import io
import itertools
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pyogrio
import pytest

from layers.cli.main import main

pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="permissions, limits and signals of Linux"
)

ROOT = Path(__file__).parents[2]
RUN = [sys.executable, "-c", "from layers.cli.main import main; main()"]
ONE_BY_ONE = """
import sys
from layers.cli.main import main
words = sys.argv[1:]
while words:
    end = words.index(";")
    try:
        main(words[:end])
    except SystemExit as ended:
        if ended.code:
            raise
    words = words[end + 1 :]
"""
BOX = "-33.42,46.19,-33.40,46.21"
AREA = ["--area", "area.toml"]
DAY = ["--date", "2031-06-14"]
COMMANDS = {
    "demo": ["demo", "--out", "OUT"],
    "area": ["area", "--out", "OUT/area.toml"],
    "scout": ["scout", *AREA, "--box", BOX, "--out", "OUT"],
    "tide": ["tide", *AREA, *DAY, "--out", "OUT"],
    "plan": ["plan", *AREA, *DAY, "--from", "9:00", "--to", "9:15", "--out", "OUT"],
    "trip": ["trip", "trip_1.gpx", *AREA, "--catches", "catches.csv", "--out", "OUT"],
    "log": ["trip", "trip_1.gpx", *AREA, "--log", "OUT/log.gpkg", "--out", "OUT"],
    "rank": ["season", "--rank", "--log", "log.gpkg", "--out", "OUT"],
    "export": ["season", "--export", "csv", "--log", "log.gpkg", "--out", "OUT"],
    "share": ["season", "--share", "OUT/shared.gpkg", "--log", "log.gpkg"],
    "marks": ["marks", "trip/trip.gpkg", "--out", "OUT/marks.gpx"],
}  # fmt: skip


def command(name: str, out: str) -> list[str]:
    return [word.replace("OUT", out) for word in COMMANDS[name]]


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A folder with the demo's files, a logbook and a worked-out trip."""
    folder = tmp_path_factory.mktemp("hard")
    for file in (ROOT / "demo_area").iterdir():
        if file.is_file() and file.suffix not in {".py", ".md"}:
            shutil.copy(file, folder)
    words = ["trip", "trip_1.gpx", "--timezone", "Etc/GMT+2", "--catches", "catches.csv",
             "--log", "log.gpkg", "--out", "trip"]  # fmt: skip
    subprocess.run([*RUN, *words], cwd=folder, check=True, stdout=subprocess.DEVNULL)
    return folder


def files_in(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
        and path.suffix in {".csv", ".gpx"}  # others hold a time or a number drawn
    }


HARD = [
    *(("permissions", name) for name in ("area", "tide", "log", "rank", "marks")),
    *(("size", name) for name in ("demo", "scout", "plan", "log", "export", "share")),
]


@pytest.fixture(scope="module")
def ends(place):
    """What each command does in a folder without leave, and under a limit of 2 kB a file."""
    jobs = []
    for hard, name in HARD:
        out = place / f"{hard}_{name}"
        out.mkdir()
        jobs.append({"words": command(name, out.name), "hard": hard, "limit": 2048})
        if hard == "permissions":
            out.chmod(0o555)
    (place / "jobs.json").write_text(json.dumps(jobs), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("hard_places.py")), "jobs.json"],
        cwd=place, capture_output=True, text=True, encoding="utf-8", timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    for folder in place.glob("permissions_*"):
        folder.chmod(0o755)
    told = json.loads(done.stdout)
    return dict(zip(HARD, told, strict=True))


@pytest.mark.parametrize(("hard", "name"), HARD)
def test_where_nothing_can_be_written_it_is_said_in_one_message(place, ends, hard, name):
    code, said = ends[hard, name]
    assert code == 2, said
    lines = [line for line in said.splitlines() if line]
    assert len(lines) == 1, said
    assert lines[0].startswith("seabed: ")
    assert "can't write" in said or "can't be written" in said
    left = [path for path in (place / f"{hard}_{name}").rglob("*") if path.is_file()]
    assert not [path for path in left if ".writing" in str(path)]
    if hard == "permissions":
        assert left == []


@pytest.fixture(scope="module")
def scouted(place):
    """What a scout writes that is left alone."""
    return written(place, place / "alone")


def written(place, out, *more):
    """Scout here, in the folder of the demo's files; give what was written."""
    quiet = contextlib.redirect_stdout(io.StringIO())
    with contextlib.chdir(place), quiet, pytest.raises(SystemExit) as ended:
        main([*command("scout", str(out)), *more])
    assert not ended.value.code
    return files_in(out)


def test_killed_in_mid_write_every_file_is_the_old_or_the_new(place, scouted, tmp_path):
    """Results of other options lie there before; killed at a random moment of the writing."""
    out = tmp_path / "out"
    old = written(place, out, "--band", "5-8 m")
    random.seed("scout")
    process = subprocess.Popen(
        [*RUN, *command("scout", str(out))], cwd=place, stdout=subprocess.DEVNULL
    )
    first = next(iter(sorted(scouted)))
    deadline = time.monotonic() + 120
    while time.monotonic() < deadline and process.poll() is None:
        if any(out.rglob(".writing-*")) or (out / first).read_bytes() != old[first]:
            time.sleep(random.uniform(0, 0.4))
            process.send_signal(signal.SIGKILL)
            break
        time.sleep(0.002)
    process.wait()
    after = {file: content for file, content in files_in(out).items() if ".writing-" not in file}
    for file, content in after.items():
        assert content in (old.get(file), scouted.get(file)), file
    assert set(old) <= set(after)
    assert (out / "map.html").read_text(encoding="utf-8").rstrip().endswith("</html>")
    assert len(pyogrio.list_layers(out / "structure.gpkg")) > 3
    # and run again it ends as if nothing had been
    assert written(place, out).items() >= scouted.items()


def test_two_at_once_leave_whole_results(place, scouted, tmp_path):
    both = [
        subprocess.Popen(
            [*RUN, *command("scout", str(tmp_path / "out"))], cwd=place,
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
        )
        for _ in range(2)
    ]  # fmt: skip
    for process in both:
        _, errors = process.communicate(timeout=120)
        assert process.returncode == 0, errors
    assert files_in(tmp_path / "out") == scouted


def test_without_home_in_the_plain_locale_in_a_folder_of_many_scripts(place, tmp_path):
    folder = tmp_path / "Ås fjord 日本 (kopi)"
    shutil.copytree(
        place, folder, ignore=shutil.ignore_patterns("permissions_*", "size_*", "alone")
    )
    environment = {
        name: value
        for name, value in os.environ.items()
        if name in {"PATH", "LD_LIBRARY_PATH", "NUMBA_CACHE_DIR"}
    }
    words = [[*command(name, "résultats ö"), ";"] for name in ("scout", "log", "marks")]
    done = subprocess.run(
        [sys.executable, "-c", ONE_BY_ONE, *itertools.chain(*words)], cwd=folder,
        capture_output=True, check=False, env={**environment, "LC_ALL": "C"}, timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert b"Traceback" not in done.stderr
    assert {"map.html", "trip.gpkg", "structure.gpkg", "marks.gpx"} <= {
        path.name for path in (folder / "résultats ö").iterdir()
    }
