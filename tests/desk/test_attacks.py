"""Attacks on a running desk over HTTP."""

from __future__ import annotations

import http.client
import json
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path
from urllib.parse import quote

import pytest
from asking import ask

from layers.desk.serving import RUNNING, Running

DEMO = Path(__file__).parents[2] / "demo_area"
HOSTILE = "</title><style>*{display:none}</style><img src=x onerror=a()>\u202eb\u2066"
"""An element, a style, what shows later numbers backward."""


@pytest.fixture(scope="module")
def desk(root: Path, address: str) -> Running:
    """A desk with one water that has a secret beside it, and a hostile name."""
    shutil.copytree(DEMO, root / "sound", ignore=shutil.ignore_patterns("making", "*.py"))
    area = root / "sound" / "area.toml"
    text = area.read_text(encoding="utf-8")
    assert '"Tollivane Sound"' in text
    area.write_text(text.replace('"Tollivane Sound"', json.dumps(HOSTILE)), encoding="utf-8")
    (root / "secret.txt").write_text("secret")
    (root / "sound" / "results").mkdir()
    (root / "sound" / "results" / "map.html").write_text("<script>alert(1)</script>")
    (root / "sound" / "results" / ".hidden").write_text("secret")
    return Running(**json.loads((root / RUNNING).read_text()))


@pytest.fixture(scope="module")
def code(desk: Running) -> str:
    """Where a page has its code from."""
    return re.search("/browser/[^/]+", ask(desk, "GET", "/")[2].decode())[0]


@pytest.mark.parametrize(
    "path",
    ["/w/sound/files/../secret.txt", "/w/sound/files/results/../../secret.txt", "/w/../secret.txt",
     "/w/sound/files/..%2fsecret.txt", "/w/sound/files/results/..%2f..%2fsecret.txt",
     "/w/sound/files/results/%2e%2e/%2e%2e/secret.txt", "/w/sound/files/%2fetc%2fpasswd",
     "/w/sound/files/results/.hidden", "/w/sound/files/area.toml", "/w/sound/files/results/a%00b",
     "CODE/../../app.py", "CODE/..%2fapp.py", "CODE/../app.py", "/w/sound/tasks/..%2f..%2fsecret",
     f"/w/sound/files/{RUNNING}", f"/w/%2e/files/{RUNNING}"],
)  # fmt: skip
def test_no_path_leads_out_of_a_water(desk, code, path):
    status, _, content = ask(desk, "GET", path.replace("CODE", code))
    assert status in (400, 404)
    assert b"secret" not in content.replace(b"secret.txt", b"")
    assert b"root:" not in content


def test_a_browser_keeps_code_alone_and_of_this_start(desk, code):
    """Nothing of a water is left in its cache, and no desk gets the code of another version."""
    from layers.desk.pages.shared import CODE as OF_THIS_PROCESS

    for name in ("desk.js", "desk.css", "looks.css"):
        status, headers, _ = ask(desk, "GET", f"{code}/{name}")
        assert (status, headers["cache-control"].split(",")[0]) == (200, "private")
        assert ask(desk, "GET", f"{code}/{name}", Cookie="")[0] == 403
        assert ask(desk, "GET", f"{OF_THIS_PROCESS}/{name}")[0] == 404
    for path in ("/", "/w/sound/today", "/w/sound/files/results/map.html", f"{code}/none.js"):
        assert ask(desk, "GET", path)[1]["cache-control"] == "no-store"


def test_a_page_that_a_job_made_runs_apart_from_the_desk(desk):
    status, headers, _ = ask(desk, "GET", "/w/sound/files/results/map.html")
    assert status == 200
    policy = headers["content-security-policy"]
    assert policy.startswith("sandbox ")
    assert "allow-same-origin" not in policy


@pytest.mark.parametrize(
    "name", ["../../../evil.gpx", "..\\..\\evil.gpx", "/etc/evil.gpx", "evil\0.gpx", ".evil.gpx",
             "con.gpx", "e" * 5000 + ".gpx", "<img src=x>.gpx"],
)  # fmt: skip
def test_names_of_files_that_come_in_are_cleaned(desk, root, name):
    before = {path for path in root.parent.rglob("*") if path.is_file()}
    status, _, content = ask(desk, "POST", f"/w/sound/files?name={quote(name)}", b"<gpx/>")
    assert status == 200, content
    new = {path for path in root.parent.rglob("*") if path.is_file()} - before
    assert [path.parent for path in new] == [root.resolve() / "sound" / "tracks"]
    assert not set(new.pop().name) & set("<>\\/\0")


@pytest.mark.parametrize(
    "query", ["name=evil.exe", "name=x.gpx&kind=results", "name=x.gpx&kind=..", "name="]
)
def test_what_is_no_file_of_the_job_is_refused(desk, query):
    assert ask(desk, "POST", f"/w/sound/files?{query}", b"x")[0] == 400


def test_an_upload_that_breaks_off_leaves_nothing(desk, root):
    keys = desk.keys
    connection = http.client.HTTPConnection("127.0.0.1", desk.port, timeout=600)
    connection.putrequest("POST", "/w/sound/files?name=half.gpx")
    for name, value in (("Origin", keys.origin), ("Cookie", f"{keys.cookie_name}={keys.cookie}"),
                        ("Content-Length", "1000000")):  # fmt: skip
        connection.putheader(name, value)
    connection.endheaders()
    connection.send(b"<gpx>" * 100)
    connection.close()
    for _ in range(100):
        time.sleep(0.5)  # first, for the desk to begin
        if not (left := list((root / "sound").rglob("half*"))):
            break
    assert not left


def test_a_form_of_a_wrong_value_changes_nothing(desk, root):
    before = (root / "sound" / "area.toml").read_bytes()
    for field, value in (
        ("area_timezone", "../../x"),
        ("boat_rods", "many"),
        ("depths_band", "deep"),
        ("water_flood_toward", "1e400"),
        ("water_currents", "0.8 kn northish to 40"),
    ):
        body = f"{field}={quote(value)}".encode()
        form = {"Content-Type": "application/x-www-form-urlencoded"}
        assert ask(desk, "POST", "/w/sound/water", body, **form)[0] == 400, field
    assert (root / "sound" / "area.toml").read_bytes() == before


def test_jobs_take_no_address_from_a_page(desk, root):
    """A form names files of the water alone; nothing it says is fetched."""
    body = b"tracks=http%3A%2F%2Fevil.example%2Ft.gpx&preview=yes"
    form = {"Content-Type": "application/x-www-form-urlencoded"}
    status, headers, _ = ask(desk, "POST", "/w/sound/trips", body, **form)
    assert status == 303
    record = root / "sound" / "results" / f"{headers['location'].partition('=')[2]}.json"
    (track,) = json.loads(record.read_text())["request"]["tracks"]
    assert Path(track).is_relative_to(root.resolve() / "sound" / "tracks")


def test_a_second_start_finds_the_first(desk, root):
    command = [sys.executable, "-m", "layers.cli.main", "desk", str(root), "--no-browser"]
    second = subprocess.run(command, capture_output=True, text=True, timeout=300, check=True)
    assert desk.keys.address in second.stdout
    assert "open already" in second.stdout


@pytest.mark.skipif(sys.platform == "win32", reason="the mode says what its owner alone may read")
def test_word_for_a_second_start_is_its_owners_alone(root, desk):
    assert (root / RUNNING).stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("page", ["today", "trips", "season", "bottom", "water"])
def test_a_name_is_text_and_turns_nothing_around(desk, page):
    status, headers, content = ask(desk, "GET", f"/w/sound/{page}")
    text = content.decode()
    assert status == 200 and "&lt;img" in text
    assert "<img src=x" not in text and "<style>*" not in text
    assert not re.search("[\u202a-\u202e\u2066-\u2069]", text)
    assert "unsafe-inline" not in headers["content-security-policy"]
