"""A desk that is killed in the middle of something, and two that start at once.

Other readers say whether a file is whole: SQLite, an XML parser, the bytes sent.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
import xml.etree.ElementTree as ET
from contextlib import closing, suppress
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlencode

import pytest
from asking import ask
from thoroughness import THOROUGH

from layers.desk.serving import earlier_desk
from layers.desk.tasks import ENDED
from layers.logbook import Logbook

FORM = {"Content-Type": "application/x-www-form-urlencoded", "Accept": "text/html"}
MOMENTS = {"upload": 34, "log": 33, "plan": 33}
"""Kills in each; those in a job are in an upload too."""
SENT = b"<?xml version='1.0'?>\n<gpx>" + b"<!-- a long track -->\n" * 400_000 + b"</gpx>"
PAST_END = 1.2
"""Moments are spread from the first step of a job to so many times its length."""
PLAN = {"date": "2031-06-14", "begin": "7:00", "end": "8:00", "wind": "SW 8 kn"}
TRIP = {"tracks": "trip_1.gpx", "catches": "catches.csv", "log": "yes"}

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")


started: list[subprocess.Popen[str]] = []
opened: list[Desk] = []


@pytest.fixture(scope="module", autouse=True)
def none_is_left():
    """End the desks of a test that failed."""
    yield
    for process in started:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()


class Desk:
    """A desk in a session of its own, as in a window of its own."""

    def __init__(self, folder):
        self.folder = folder
        command = [sys.executable, "-m", "layers.cli.main", "desk", str(folder), "--no-browser"]
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
            start_new_session=True,
        )  # fmt: skip
        started.append(self.process)
        opened.append(self)
        assert "http" in self.process.stdout.readline()
        self.running = earlier_desk(folder)

    def ask(self, method, path, body=b"", **headers):
        return ask(self.running, method, f"/w/{self.folder.name}/{path}", body, **headers)

    def kill(self, *, worker):
        """End it as a failing machine does; without its worker, as a failing program."""
        listed = subprocess.run(
            ["pgrep", "-P", str(self.process.pid)], capture_output=True, check=False
        )
        self.process.kill()
        if worker:
            for pid in listed.stdout.split():
                os.kill(int(pid), signal.SIGKILL)
        self.process.wait()
        self.process.stdout.close()
        self.process.stderr.close()
        time.sleep(0 if worker else 0.3)  # its worker hears that it is gone

    def wait_for(self, task, *states):
        record = self.folder / "results" / f"{task}.json"
        for _ in range(30_000):  # a busy machine is no fault
            state = ""
            with suppress(OSError, ValueError):
                state = json.loads(record.read_text())["state"]
            if state in states:
                return
            assert state not in ENDED, record.read_text()
            time.sleep(0.01)
        raise AssertionError(f"{task} is not {states}: {record.read_text()}")


def open_still(folder):
    """The desk that another test left open, or else a new one: each start takes two seconds."""
    left = [desk for desk in opened if desk.folder == folder and desk.process.poll() is None]
    return left[-1] if left else Desk(folder)


@pytest.fixture(scope="module")
def water(tmp_path_factory, demo):
    folder = tmp_path_factory.mktemp("killed") / "sound"
    shutil.copytree(demo, folder, ignore=shutil.ignore_patterns("trip*", "cat*"))
    for name in ("tracks/trip_1.gpx", "catches/catches.csv"):
        (folder / name).parent.mkdir()
        shutil.copy(demo / Path(name).name, folder / name)
    return folder.resolve()


def begin(desk, what):
    """Begin something; give its task."""
    page, fields = {"log": ("trips", TRIP), "plan": ("today", PLAN)}[what]
    status, headers, _ = desk.ask("POST", page, urlencode(fields).encode(), **FORM)
    assert status == 303
    return headers["location"].partition("result=")[2]


def first_step(desk, task):
    """Wait until a job is at work: its worker has loaded what it needs."""
    panel = b""
    while b"<p></p>" in panel or b"<p>" not in panel:
        panel = desk.ask("GET", f"tasks/{task}")[2]
        if b'data-state="done"' in panel:
            return
        time.sleep(0.005)


@pytest.fixture(scope="module")
def lasts(water):
    """How long each takes from its first step to its end, seconds, in a desk just opened."""
    took = {}
    for what in ("log", "plan") * 2:  # the first ones may compile
        desk = open_still(water)
        task = begin(desk, what)
        first_step(desk, task)
        start = time.monotonic()
        desk.wait_for(task, "done")
        took[what] = time.monotonic() - start
        (water / "logbook.gpkg").unlink(missing_ok=True)
        desk.kill(worker=True)
    return took


@pytest.mark.skipif(not THOROUGH, reason="kills: in the thorough set")
@pytest.mark.parametrize("what", MOMENTS)
def test_killed_at_any_moment_nothing_is_half_written(water, request, what):
    draw = random.Random(f"{what} 4")  # the first moments fall within the job
    lasts = {} if what == "upload" else request.getfixturevalue("lasts")
    ends = []
    desk = open_still(water)
    for number in range(MOMENTS[what]):
        share = PAST_END * (number + draw.random()) / MOMENTS[what]
        name, task = f"sent_{number}.gpx", ""
        sending = send_in_part(desk, f"files?name={name}", share)
        if what != "upload":
            (water / "logbook.gpkg").unlink(missing_ok=True)
            task = begin(desk, what)
            first_step(desk, task)
            time.sleep(share * lasts[what])
        desk.kill(worker=number % 2 == 0)
        sending.close()
        assert earlier_desk(water) is None
        desk = Desk(water)
        ends.append(seen_whole(desk, water, task))
        if ends[-1] == "done" and share < 1 and what in lasts:
            lasts[what] *= 0.9  # the machine is less busy than when that was measured
        sent = water / "tracks" / name
        assert sent.exists() <= (share >= 1)
        if sent.exists():
            assert sent.read_bytes() == SENT
            sent.unlink()
            ends[-1] = "done" if what == "upload" else ends[-1]
    if what == "log":  # and it still can
        desk.wait_for(begin(desk, what), "done")
        assert Logbook(water / "logbook.gpkg").trips()["fish"].tolist() == [13]
    sys.stdout.write(f"{what}: { ({end: ends.count(end) for end in sorted(set(ends))}) }\n")
    # the moments were where they were meant to be
    assert len(ends) - ends.count("done") >= MOMENTS[what] / 2
    assert "done" in ends


def send_in_part(desk, path, share):
    """Send a share of a file, and wait for the answer if that is all of it."""
    keys = desk.running.keys
    sending = HTTPConnection("127.0.0.1", desk.running.port, timeout=600)
    sending.putrequest("POST", f"/w/{desk.folder.name}/{path}")
    for name, value in (
        ("Origin", keys.origin), ("Cookie", f"{keys.cookie_name}={keys.cookie}"),
        ("Content-Length", str(len(SENT))),
    ):  # fmt: skip
        sending.putheader(name, value)
    sending.endheaders()
    sending.send(SENT[: int(share * len(SENT))])
    if share >= 1:
        assert sending.getresponse().status == 200
    return sending


def seen_whole(desk, water, task):
    """Look at every file, and at the page as it comes back; give the state of the task."""
    for file in (one for one in water.rglob("*") if one.is_file()):
        if not any(part.startswith(".writing-") for part in file.parts):
            whole(file)
    page = "today" if task.endswith("plan") else "trips"
    status, _, content = desk.ask("GET", f"{page}?result={task}", Accept="text/html")
    assert status == 200
    if not task:
        return "absent"
    state = json.loads((water / "results" / f"{task}.json").read_text())["state"]
    assert state in ("done", "broken")
    assert (b"The program stopped during this job" in content) == (state == "broken")
    if page == "trips":  # what was ticked is ticked
        assert content.count(b"checked>") >= 2
    book = Logbook(water / "logbook.gpkg")
    if not book.is_new:
        assert book.trips()["fish"].tolist() in ([], [13])
    return state


def whole(file):
    match file.suffix:
        case ".json":
            json.loads(file.read_text(encoding="utf-8"))
        case ".gpx" | ".svg":
            ET.parse(file)
        case ".gpkg":
            with closing(sqlite3.connect(file)) as book:
                assert book.execute("PRAGMA integrity_check").fetchone() == ("ok",), file
        case ".csv" | ".toml" | ".txt":
            assert file.read_bytes().endswith(b"\n"), file
        case ".html":
            assert file.read_text(encoding="utf-8").rstrip().endswith("</html>"), file
        case ".pdf":
            assert file.read_bytes().rstrip().endswith(b"%%EOF"), file


@pytest.mark.parametrize("how", ["button", "Ctrl-C"])
def test_a_desk_that_is_closed_during_a_plan_stops_it_and_says_nothing_else(water, how):
    desk = open_still(water)
    task = begin(desk, "plan")
    desk.wait_for(task, "working")
    keys = desk.running.keys
    page = HTTPConnection("127.0.0.1", desk.running.port)
    page.request(
        "GET", f"/w/{water.name}/events", headers={"Cookie": f"{keys.cookie_name}={keys.cookie}"}
    )
    assert page.getresponse().status == 200
    if how == "button":
        ask(desk.running, "POST", "/stop")
    else:
        os.killpg(desk.process.pid, signal.SIGINT)
    _, errors = desk.process.communicate(timeout=300)
    page.close()
    words = "" if how == "button" else "seabed: stopped; no file was left half-written.\n"
    assert errors == words
    assert json.loads((water / "results" / f"{task}.json").read_text())["state"] == "stopped"
    assert not (water / "results" / task).exists()


def test_closing_the_last_page_offers_to_close_the_desk(tmp_path):
    """In the window that the desk was started in; Enter takes the offer."""
    import pty

    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "layers.cli.main", "desk", str(tmp_path), "--no-browser"]
    with subprocess.Popen(command, stdin=theirs, stdout=subprocess.PIPE, text=True) as process:
        started.append(process)
        process.stdout.readline()
        process.stdout.readline()
        desk = earlier_desk(tmp_path)
        for about in (
            "open=one",
            "open=other",
            "shut=one",
            "shut=other",
            "open=third",
            "shut=third",
        ):
            assert ask(desk, "POST", f"/pages?{about}")[0] == 200
        offer = process.stdout.readline()
        assert "Press Enter" in offer
        assert desk.keys.address in offer
        os.write(ours, b"\n")
        assert process.wait(600) == 0
    os.close(ours)
    os.close(theirs)


def test_of_two_starts_at_once_one_finds_the_other(tmp_path):
    command = [sys.executable, "-m", "layers.cli.main", "desk", str(tmp_path), "--no-browser"]
    starts = [
        subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        for _ in range(6 if THOROUGH else 2)
    ]
    lines = [start.stdout.readline() for start in starts]
    assert sum("open already" in line for line in lines) == len(starts) - 1
    assert len({line.partition("http")[2] for line in lines}) == 1
    subprocess.run([*command, "--stop"], check=True, capture_output=True)
    assert not (tmp_path / ".seabed-desk").exists()  # another start finds it gone
    assert [start.wait(600) for start in starts] == [0] * len(starts)
    for start in starts:
        start.stdout.close()
